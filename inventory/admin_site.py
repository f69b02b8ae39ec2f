"""The admin's door: shut in the client view, like every other that leads to the record."""

from django.contrib.admin import AdminSite
from django.http import HttpRequest

from inventory.viewer import viewer_of


class YardAdminSite(AdminSite):
    site_header = "Waneyard: the record's own tables"
    site_title = "Waneyard"
    index_title = "Tables"

    def has_permission(self, request: HttpRequest) -> bool:
        return super().has_permission(request) and not viewer_of(request).client_view
