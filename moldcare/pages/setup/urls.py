"""Addresses of the setup."""

from django.urls import path

from moldcare.pages.setup import (
    auxiliaries,
    begin,
    belongings,
    cautions,
    counters,
    people,
    plant,
    rates,
    shifts,
    spots,
    views,
)

urlpatterns = [
    path("setup", views.setup, name="setup"),
    path("setup/begin", begin.setup_begin, name="setup-begin"),
    path("setup/examples/<str:example>", begin.setup_example, name="setup-example"),
    path("setup/plant", plant.setup_plant, name="setup-plant"),
    path("setup/shifts", shifts.setup_shifts, name="setup-shifts"),
    path("setup/shifts/week", shifts.pattern_add, name="setup-shifts-pattern"),
    path(
        "setup/shifts/weeks/<int:pk>/take-back",
        shifts.pattern_take_back,
        name="setup-shifts-week-take-back",
    ),
    path("setup/shifts/day", shifts.day_add, name="setup-shifts-day"),
    path("setup/shifts/holidays", shifts.holidays_add, name="setup-shifts-holidays"),
    path(
        "setup/shifts/days/<int:pk>/take-back", shifts.day_take_back, name="setup-shifts-take-back"
    ),
    path("setup/spots", spots.setup_spots, name="setup-spots"),
    path("setup/spots/add", spots.spot_add, name="setup-spot-add"),
    path("setup/spots/many", spots.spots_many, name="setup-spots-many"),
    path("setup/spots/<int:pk>", spots.spot_edit, name="setup-spot"),
    path("setup/counters", counters.setup_counters, name="setup-counters"),
    path("setup/people", people.setup_people, name="setup-people"),
    path("setup/people/add", people.person_add, name="setup-person-add"),
    path("setup/people/<int:person>", people.person, name="setup-person"),
    path("setup/people/<int:person>/edit", people.person_edit, name="setup-person-edit"),
    path("setup/people/<int:person>/pin", people.person_pin, name="setup-person-pin"),
    path(
        "setup/people/<int:person>/password", people.person_password, name="setup-person-password"
    ),
    path("setup/people/<int:person>/qualify", people.person_qualify, name="setup-person-qualify"),
    path(
        "setup/people/<int:person>/qualifications/<int:qualification>/withdraw",
        people.person_disqualify,
        name="setup-person-disqualify",
    ),
    path("setup/people/<int:person>/train", people.person_train, name="setup-person-train"),
    path("setup/owners", belongings.setup_owners, name="setup-owners"),
    path("setup/owners/add", belongings.owner_add, name="setup-owner-add"),
    path("setup/owners/<int:pk>", belongings.owner_edit, name="setup-owner"),
    path("setup/owners/<int:pk>/withdraw", belongings.owner_withdraw, name="setup-owner-withdraw"),
    path("setup/supplies", belongings.setup_supplies, name="setup-supplies"),
    path("setup/supplies/add", belongings.supply_add, name="setup-supply-add"),
    path("setup/supplies/<int:pk>", belongings.supply_edit, name="setup-supply"),
    path(
        "setup/supplies/<int:pk>/withdraw",
        belongings.supply_withdraw,
        name="setup-supply-withdraw",
    ),
    path("setup/auxiliaries", auxiliaries.setup_auxiliaries, name="setup-auxiliaries"),
    path("setup/auxiliaries/add", auxiliaries.auxiliary_add, name="setup-auxiliary-add"),
    path("setup/auxiliaries/<int:pk>", auxiliaries.auxiliary, name="setup-auxiliary"),
    path(
        "setup/auxiliaries/<int:pk>/edit", auxiliaries.auxiliary_edit, name="setup-auxiliary-edit"
    ),
    path(
        "setup/auxiliaries/<int:pk>/withdraw",
        auxiliaries.auxiliary_withdraw,
        name="setup-auxiliary-withdraw",
    ),
    path(
        "setup/auxiliaries/<int:pk>/rules/add",
        auxiliaries.auxiliary_rule_add,
        name="auxiliary-rule-add",
    ),
    path("setup/cautions", cautions.setup_cautions, name="setup-cautions"),
    path("setup/cautions/add", cautions.caution_add, name="setup-caution-add"),
    path("setup/cautions/lock-out", cautions.lockout, name="setup-lockout"),
    path(
        "setup/cautions/<int:pk>/withdraw",
        cautions.caution_withdraw,
        name="setup-caution-withdraw",
    ),
    path("setup/rates", rates.setup_rates, name="setup-rates"),
    path("setup/rates/add", rates.rate_add, name="setup-rate-add"),
]
