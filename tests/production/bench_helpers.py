"""Filling in the bench's forms as a person at the bench would: what the page shows, changed here and there."""

import re
from html import unescape

from django.urls import reverse
from django.utils.http import urlencode


def filled_in(form) -> dict:
    """The form's fields as the page shows them, ready to be sent."""
    data = {}
    for bound in form:
        value = bound.value()
        if value is not None and bound.name != "really":
            data[bound.html_name] = value
    return data


def plan_url(pour, color, **asked) -> str:
    """The mix page's address for what was asked."""
    query = urlencode({"color": color, "heel": "0 mL", **asked})
    return f"{reverse('production:batch_mix', args=[pour.pk])}?{query}"


def mix(client, url, **changes):
    """Opens the mix page, overwrites what `changes` names, and sends it."""
    page = client.get(url)
    assert page.status_code == 200, text_of(page)
    return client.post(url, filled_in(page.context["form"]) | changes)


def shots_url(pour, mold, pattern) -> str:
    query = urlencode({"mold": mold.pk, "pattern": pattern.pk})
    return f"{reverse('production:shots_new', args=[pour.pk])}?{query}"


def shoot(client, url, mold, good, **changes):
    """Opens the shots page of a mold with one bait, writes `good`, and sends it."""
    form = client.get(url).context["form"]
    bait = mold.cavities.get().bait_id
    data = filled_in(form) | {f"good_{bait}": good, f"seconds_{bait}": ""} | changes
    return client.post(url, data)


def text_of(answer) -> str:
    """What a page says, without its marks."""
    plain = re.sub("<[^>]*>", " ", answer.content.decode())
    return " ".join(unescape(plain).split())
