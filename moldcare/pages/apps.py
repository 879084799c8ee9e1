"""The web pages as a Django application."""

from django.apps import AppConfig


class PagesConfig(AppConfig):
    """Registers the checks that run before anything is served."""

    name = "moldcare.pages"

    def ready(self) -> None:
        """Let Django find the checks."""
        from moldcare.pages import checks  # noqa: F401
