"""The site's addresses: both apps, signing in, and the admin."""

from django.contrib import admin
from django.urls import include, path

from catalogue.urls import browse, commissions, people

catalogue_patterns = [
    *browse.urlpatterns,
    *commissions.urlpatterns,
    *people.urlpatterns,
]

urlpatterns = [
    path("", include((catalogue_patterns, "catalogue"))),
    path("", include("inventory.urls")),
    path("", include("catalogue.urls.doors")),
    path("admin/", admin.site.urls),
]

handler403 = "catalogue.views.problems.forbidden"
handler404 = "catalogue.views.problems.not_found"
