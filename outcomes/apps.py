"""Outcomes: what is measured, what it means, and what is written about it."""

from importlib import import_module
from pkgutil import iter_modules
from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate


def _settle(using: str, **kwargs: Any) -> None:
    """After each migrate: renew the guards, then seed the shipped measures and protocols."""
    guards = import_module("clinic.models.guards")
    guards.install_guards(import_module("django.db").connections[using])
    import_module("outcomes.services.seeds").seed_versions()


class OutcomesConfig(AppConfig):
    """Loads every module of ``outcomes.models`` and settles guards and versions at migrate."""

    name = "outcomes"

    def import_models(self) -> None:
        """Import the models from each module of the package."""
        super().import_models()
        for module in iter_modules(import_module("outcomes.models").__path__):
            import_module(f"outcomes.models.{module.name}")

    def ready(self) -> None:
        """Guards and versions are settled whenever this app has been migrated."""
        post_migrate.connect(_settle, sender=self)
