"""Receiving, measuring, photographing, pricing and parting with slabs; the ledger."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
