"""Installs the admin with the yard's own site (see admin_site.py)."""

from django.contrib.admin.apps import AdminConfig


class YardAdminConfig(AdminConfig):
    default_site = "inventory.admin_site.YardAdminSite"
