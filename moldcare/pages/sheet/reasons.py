"""Ready reasons for what is left or found not needed: one tap each, beside one's own words."""

from django.utils.translation import gettext_lazy

READY = {
    "leave:no_time": gettext_lazy("no time before the mold is needed"),
    "leave:no_part": gettext_lazy("a part is not here"),
    "leave:no_person": gettext_lazy("nobody who may do it is here"),
    "leave:no_decision": gettext_lazy("a decision is missing"),
    "leave:outside": gettext_lazy("it goes outside"),
    "not_needed:clean": gettext_lazy("looked at: nothing to do"),
    "not_needed:done_lately": gettext_lazy("done lately with other work"),
}


def ready_reason(do: str) -> str:
    """Return the words of a ready reason by what its button sends; empty for none."""
    return str(READY.get(do, ""))


def ready_reasons(of: str) -> list[tuple[str, str]]:
    """Return what buttons send and say for `leave` or `not_needed`."""
    return [(do, str(said)) for do, said in READY.items() if do.startswith(f"{of}:")]
