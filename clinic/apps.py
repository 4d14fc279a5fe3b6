"""The clinic: people, places, episodes, operations, visits and rights."""

from importlib import import_module
from pkgutil import iter_modules

from django.apps import AppConfig


class ClinicConfig(AppConfig):
    """Loads every module of ``clinic.models``, whose package stays empty."""

    name = "clinic"

    def import_models(self) -> None:
        """Import the models from each module of the package."""
        super().import_models()
        for module in iter_modules(import_module("clinic.models").__path__):
            import_module(f"clinic.models.{module.name}")

    def ready(self) -> None:
        """Register the deploy checks."""
        import_module("clinic.checks")
