"""The addresses of the pages."""

from importlib import import_module

from django.contrib import admin
from django.urls import URLPattern, URLResolver, include, path
from django.views.generic.base import RedirectView

handler400 = "moldcare.pages.errors.bad_request"
handler403 = "moldcare.pages.errors.not_allowed"
handler404 = "moldcare.pages.errors.not_found"
handler500 = "moldcare.pages.errors.server_fault"

# every family of pages, in the order in which addresses are tried
FAMILIES = (
    "sign_in",
    "own",
    "tablet",
    "shift",
    "molds",
    "floor",
    "rules",
    "rule_sets",
    "counter_pages",
    "setup",
    "mold_setup",
    "readings",
    "imports",
    "exports",
    "printing",
    "spots",
    "scan",
    "handover",
    "orders",
    "sheet",
    "logbook",
    "files",
)


def _is_there(family: str) -> bool:
    try:
        import_module(f"moldcare.pages.{family}.urls")
    except ModuleNotFoundError as error:
        if error.name is not None and error.name.startswith(f"moldcare.pages.{family}"):
            return False
        raise
    return True


urlpatterns: list[URLPattern | URLResolver] = [
    path("", include(f"moldcare.pages.{family}.urls")) for family in FAMILIES if _is_there(family)
]
urlpatterns += [
    # the tables are signed in to like every page: wrong tries are counted there
    path(
        "tables/login/",
        RedirectView.as_view(pattern_name="sign-in", query_string=True),
        name="tables-sign-in",
    ),
    path("tables/", admin.site.urls),
]
