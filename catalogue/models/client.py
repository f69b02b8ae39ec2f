"""Clients: whom the workshop builds for."""

from django.db import models


class Client(models.Model):
    name = models.CharField(max_length=80, unique=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    note = models.TextField("note for the house", blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name
