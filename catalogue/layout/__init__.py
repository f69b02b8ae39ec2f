"""Tops laid on slabs: pure geometry in plan, mm and mm²."""
