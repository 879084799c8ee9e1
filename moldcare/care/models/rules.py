"""The care rules of molds and auxiliaries."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from moldcare.care.models.sets import SetRule
from moldcare.care.models.terms import RuleTermsModel, terms_constraints
from moldcare.facts import Fact, one_of
from moldcare.logbook.models import Entry
from moldcare.molds.models import Auxiliary, Circuit, Mold, Position
from moldcare.plant.models import Person


class CareRuleTarget(models.TextChoices):
    """What a care rule looks after."""

    MOLD = "mold", _("the mold")
    POSITION = "position", _("a position, or the component in it")
    CIRCUIT = "circuit", _("one circuit")
    ALL_CIRCUITS = "all_circuits", _("all circuits")
    AUXILIARY = "auxiliary", _("an auxiliary")


class CareRule(RuleTermsModel):
    """One care rule of one mold or auxiliary."""

    Target = CareRuleTarget
    mold = models.ForeignKey(Mold, models.PROTECT, null=True, blank=True, related_name="care_rules")
    auxiliary = models.ForeignKey(
        Auxiliary, models.PROTECT, null=True, blank=True, related_name="care_rules"
    )
    target = models.CharField(_("target"), max_length=12, choices=Target, default=Target.MOLD)
    position = models.ForeignKey(
        Position, models.PROTECT, null=True, blank=True, related_name="care_rules"
    )
    circuit = models.ForeignKey(
        Circuit, models.PROTECT, null=True, blank=True, related_name="care_rules"
    )
    from_set_rule = models.ForeignKey(
        SetRule, models.PROTECT, null=True, blank=True, related_name="copies"
    )
    is_adjusted = models.BooleanField(default=False)
    changes_component = models.BooleanField(
        _("fitting a new component completes it"), default=False
    )
    entered_at = models.DateTimeField(editable=False)
    withdrawn_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ["mold", "id"]
        constraints = [
            *terms_constraints(),
            models.CheckConstraint(
                condition=models.Q(
                    target__in=["mold", "all_circuits"],
                    mold__isnull=False,
                    auxiliary__isnull=True,
                    position__isnull=True,
                    circuit__isnull=True,
                )
                | models.Q(
                    target="position",
                    mold__isnull=False,
                    auxiliary__isnull=True,
                    position__isnull=False,
                    circuit__isnull=True,
                )
                | models.Q(
                    target="circuit",
                    mold__isnull=False,
                    auxiliary__isnull=True,
                    position__isnull=True,
                    circuit__isnull=False,
                )
                | models.Q(
                    target="auxiliary",
                    mold__isnull=True,
                    auxiliary__isnull=False,
                    position__isnull=True,
                    circuit__isnull=True,
                ),
                name="care_carerule_one_target",
                violation_error_message=_("A rule has exactly one target."),
            ),
            models.UniqueConstraint(
                fields=["mold", "target", "position", "circuit", "name"],
                condition=models.Q(withdrawn_at__isnull=True),
                name="care_carerule_name_once",
            ),
        ]


class RuleVersion(Fact):
    """What a rule said from an instant on, and why it was changed."""

    rule = models.ForeignKey(CareRule, models.PROTECT, related_name="versions")
    terms = models.JSONField()
    reason = models.CharField(max_length=400)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, models.PROTECT, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(reason=""), name="care_ruleversion_has_a_reason"
            )
        ]

    def __str__(self) -> str:
        return f"{self.rule} from {self.written_at}"


class StepKind(models.TextChoices):
    """What a step asks for."""

    TICK = "tick", _("a tick")
    VALUE = "value", _("a value")
    CHOICE = "choice", _("a choice")
    PHOTO = "photo", _("a photo")
    POSITION = "position", _("a position")


class Step(models.Model):
    """One step of a rule, in order."""

    Kind = StepKind
    rule = models.ForeignKey(CareRule, models.CASCADE, related_name="steps")
    place = models.PositiveSmallIntegerField()
    text = models.CharField(_("step"), max_length=400)
    kind = models.CharField(_("asks for"), max_length=8, choices=Kind, default=Kind.TICK)
    unit = models.CharField(_("unit"), max_length=20, blank=True)
    low = models.DecimalField(_("at least"), max_digits=14, decimal_places=6, null=True, blank=True)
    high = models.DecimalField(_("at most"), max_digits=14, decimal_places=6, null=True, blank=True)
    choices = models.JSONField(default=list, blank=True)

    class Meta:
        ordering = ["rule", "place"]
        constraints = [
            models.UniqueConstraint(fields=["rule", "place"], name="care_step_place"),
            models.CheckConstraint(
                condition=models.Q(low__isnull=True)
                | models.Q(high__isnull=True)
                | models.Q(high__gte=models.F("low")),
                name="care_step_limits",
            ),
            one_of("kind", StepKind),
        ]

    def __str__(self) -> str:
        return f"{self.rule} {self.place}"


class Cover(models.Model):
    """A finished rule restarts another of the same mold."""

    covering = models.ForeignKey(CareRule, models.CASCADE, related_name="covers")
    covered = models.ForeignKey(CareRule, models.CASCADE, related_name="covered_by")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["covering", "covered"], name="care_cover_once"),
            models.CheckConstraint(
                condition=~models.Q(covering=models.F("covered")), name="care_cover_not_itself"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.covering} covers {self.covered}"
