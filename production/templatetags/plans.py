"""{% waiting pour %}: batches of the evening's plan that are not mixed yet; {% plan_actual pour %}."""

from typing import Any

from django import template
from django.template import Context

from production import plan_actual as actual
from production import plan_page
from production.models import Plan, Pour

register = template.Library()


@register.inclusion_tag("production/_waiting.html", takes_context=True)
def waiting(context: Context, pour: Pour) -> dict[str, Any]:
    """What the evening's plan still has in store, with a link to mix each. Four queries at most."""
    plan = _plan(pour)
    return {
        "pour": pour,
        "plan": plan,
        "waiting": plan_page.waiting(plan) if plan and not pour.closed_at else [],
        "csrf_token": context.get("csrf_token"),
    }


@register.inclusion_tag("production/_plan_actual.html")
def plan_actual(pour: Pour) -> dict[str, Any]:
    """Plan against actual, batch by batch, once something of the plan was mixed."""
    plan = _plan(pour)
    return {"pour": pour, "plan": plan, "rows": actual.rows(plan) if plan else []}


def _plan(pour: Pour) -> Plan | None:
    return Plan.objects.filter(pour=pour).first()
