"""Rule sets: what they give a mold."""

from django.http import Http404, HttpRequest, HttpResponse

from moldcare.care.models import RuleSet, SetRule
from moldcare.pages.access import answer, page
from moldcare.pages.rules.rule import limit_lines


@page()
def rule_set(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what a rule set gives a mold."""
    row = RuleSet.objects.filter(pk=pk).first()
    if row is None:
        raise Http404
    rules = SetRule.objects.filter(rule_set=row).select_related("family").order_by("id")
    context = {
        "page_title": row.name,
        "nav_here": "setup",
        "rule_set": row,
        "rules": [(rule, limit_lines(rule)) for rule in rules],
    }
    return answer(request, "rule_sets/rule_set.html", context)
