"""Addresses of what is measured, judged and written."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
