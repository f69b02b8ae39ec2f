"""The air of places: typed, pasted, from a logger's file, from sensors."""

from django.urls import URLPattern, path

from inventory.views import air, air_api, air_imports, sensors

urlpatterns: list[URLPattern] = [
    path("places/<int:pk>/air/", air.air_list, name="air_list"),
    path("places/<int:pk>/air/new/", air.air_add, name="air_add"),
    path("places/<int:pk>/air/paste/", air.air_paste, name="air_paste"),
    path("places/<int:pk>/air/file/", air_imports.air_file, name="air_file"),
    path("air/files/<int:pk>/", air_imports.air_import, name="air_import"),
    path("air/files/<int:pk>/start/", air_imports.air_import_start, name="air_import_start"),
    path("air/files/<int:pk>/drop/", air_imports.air_import_drop, name="air_import_drop"),
    path("air/files/<int:pk>/not-taken/", air_imports.air_import_bad, name="air_import_bad"),
    path("air/<int:pk>/correct/", air.air_correct, name="air_correct"),
    path("places/<int:pk>/sensors/", sensors.sensors, name="sensors"),
    path("sensors/<int:pk>/revoke/", sensors.sensor_revoke, name="sensor_revoke"),
    path("api/air/", air_api.air_api, name="air_api"),
]
