"""Warmings: minutes, peaks, a timer on the server's clock, and the two scales of a thermometer."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from inventory import temperature
from inventory.services.posting import KeyReused, LedgerError
from production import peaks
from production.models import Heat
from production.services import heats, pours
from shop.models import Shop
from tests.factories import key
from tests.production import bench_helpers
from tests.production.live import Live, fresh, send, url

pytestmark = pytest.mark.django_db


@pytest.fixture
def live(shop):
    return Live()


@pytest.mark.parametrize(
    ("said", "system", "celsius"),
    [
        ("350 F", "metric", "176.7"),
        ("350", "us", "176.7"),
        ("177", "metric", "177"),
        ("177 C", "us", "177"),
    ],
)
def test_a_bare_number_is_read_in_the_shop_s_own_scale(said, system, celsius):
    assert peaks.read(said, system) == peaks.Peak(Decimal(celsius))


@pytest.mark.parametrize(("said", "system"), [("350 C", "us"), ("350", "metric")])
def test_350_entered_as_celsius_is_doubted_with_both_readings(said, system):
    doubt = peaks.read(said, system).doubt
    assert "350 °C" in doubt and "662 °F" in doubt
    assert "Was it 350 °F" in doubt and "177 °C" in doubt


def test_177_entered_as_fahrenheit_is_doubted_too():
    doubt = peaks.read("177", "us").doubt
    assert "Was it 177 °C, which is 351 °F · 177 °C?" in doubt


@pytest.mark.parametrize("said", ["hot", "", "-400 C", "9999", "NaN", "1e309", "350 K"])
def test_what_is_no_temperature_is_refused_with_words(said):
    with pytest.raises(temperature.TemperatureError):
        peaks.read(said, "us")


def test_a_reheat_is_logged_and_never_counted_as_a_melt(live):
    batch = live.mix(100)
    for _ in range(3):
        heats.warm(key=key(), batch=batch, minutes=Decimal(2), peak_c=Decimal(175), by=None)
    assert batch.heats.count() == 3
    assert fresh(batch.lot).melts == 1


def test_the_timer_stops_with_the_minutes_that_went_by(live):
    batch, began = live.mix(100), timezone.now()
    heat = heats.warm(key=key(), batch=batch, started_at=began, by=None)
    stopped = heats.stop(heat=heat, peak_c=Decimal(178), at=began + timedelta(seconds=270))
    assert (stopped.minutes, stopped.peak_c) == (Decimal("4.5"), Decimal(178))
    again = heats.stop(heat=heat, at=began + timedelta(seconds=900))
    assert again.minutes == Decimal("4.5")


def test_two_devices_start_one_timer(live):
    batch = live.mix(100)
    first = heats.warm(key=key(), batch=batch, by=None)
    assert heats.warm(key=key(), batch=batch, by=None) == first


def test_the_same_press_logs_once_and_other_figures_under_it_say_so(live):
    batch, one = live.mix(100), key()
    first = heats.warm(key=one, batch=batch, minutes=Decimal(4), by=None)
    assert heats.warm(key=one, batch=batch, minutes=Decimal(4), by=None) == first
    with pytest.raises(KeyReused):
        heats.warm(key=one, batch=batch, minutes=Decimal(5), by=None)
    assert batch.heats.count() == 1


def test_a_closed_evening_s_warmings_stay(live):
    batch = live.mix(100)
    heat = heats.warm(key=key(), batch=batch, minutes=Decimal(4), by=None)
    pours.close(pour=live.pour)
    for late in (
        lambda: heats.warm(key=key(), batch=batch, minutes=Decimal(1), by=None),
        lambda: heats.mend(heat=fresh(heat), minutes=Decimal(9), peak_c=None, note=""),
        lambda: heats.drop(heat=fresh(heat)),
    ):
        with pytest.raises(LedgerError, match="closed"):
            late()


# --- At the bench ------------------------------------------------------------


def test_start_and_stop_are_two_taps_without_any_script(helper_client, live):
    batch = live.mix(100)
    page = helper_client.get(url("batch", batch))
    helper_client.post(url("heat_start", batch), {"key": page.context["start"]})
    heat = batch.heats.get()
    assert heat.minutes is None
    page = helper_client.get(url("batch", batch))
    assert "Stop the timer" in bench_helpers.text_of(page)
    data = bench_helpers.filled_in(page.context["timer"]) | {"minutes": "3", "peak": "350"}
    assert helper_client.post(url("heat_stop", batch, heat=heat.pk), data).status_code == 302
    heat.refresh_from_db()
    assert (heat.minutes, heat.peak_c) == (Decimal(3), Decimal("176.7"))


def test_the_wrong_scale_is_asked_about_and_can_be_kept(helper_client, live):
    batch = live.mix(100)
    answer = send(helper_client, url("heat_new", batch), minutes="4", peak="350 C")
    assert answer.status_code == 422
    assert "Was it 350 °F" in bench_helpers.text_of(answer)
    assert not Heat.objects.exists()
    data = bench_helpers.filled_in(answer.context["form"]) | {"really": "on"}
    helper_client.post(url("heat_new", batch), data)
    assert Heat.objects.get().look_at


def test_a_metric_shop_reads_a_bare_number_as_celsius(helper_client, live):
    Shop.objects.update(units="metric")
    batch = live.mix(100)
    send(helper_client, url("heat_new", batch), minutes="4", peak="176")
    assert Heat.objects.get().peak_c == Decimal(176)


def test_a_peak_over_the_grade_s_limit_is_said_loudly(helper_client, live):
    batch = live.mix(100)
    answer = send(helper_client, url("heat_new", batch), minutes="4", peak="190 C")
    text = bench_helpers.text_of(helper_client.get(answer.url))
    assert "at or over the 185 °C that its grade takes" in text
    assert "At its heat limit" in text


@pytest.mark.parametrize(
    ("field", "typed"),
    [("minutes", "-1"), ("minutes", "many"), ("minutes", "0"), ("minutes", ""), ("peak", "warm")],
)
def test_a_figure_that_is_none_is_said_at_its_field_and_kept(helper_client, live, field, typed):
    batch = live.mix(100)
    answer = send(helper_client, url("heat_new", batch), **({"minutes": "4"} | {field: typed}))
    assert answer.status_code == 422
    assert answer.context["form"][field].errors
    assert not Heat.objects.exists()


def test_a_warming_is_mended_or_taken_away_until_the_evening_is_closed(helper_client, live):
    batch = live.mix(100)
    heat = heats.warm(key=key(), batch=batch, minutes=Decimal(4), peak_c=Decimal("176.7"), by=None)
    page = url("heat", batch, heat=heat.pk)
    assert helper_client.get(page).context["form"]["peak"].value() == "350 °F"
    assert send(helper_client, page, minutes="5").status_code == 302
    assert fresh(heat).minutes == Decimal(5)
    helper_client.post(page, {"drop": "1"})
    assert not Heat.objects.exists()


def test_a_batch_was_degassed_because_the_colorant_brought_air_in(helper_client, live):
    # Common practice, no source: stirring a thick colorant in beats air into the cup.
    batch = live.mix(100)
    assert "space to rise" in bench_helpers.text_of(helper_client.get(url("batch", batch)))
    helper_client.post(url("batch_degas", batch), {"degassed": "yes"})
    assert fresh(batch).degassed is True
    helper_client.post(url("batch_degas", batch), {"degassed": "no"})
    assert fresh(batch).degassed is False
    helper_client.post(url("batch_degas", batch), {"degassed": "maybe"})
    assert fresh(batch).degassed is False
