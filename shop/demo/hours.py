"""The moment that the demo has come to; it is given to each service as when a thing happened."""

from datetime import UTC, date, datetime, time, timedelta, tzinfo


class Hours:
    """Set to an hour of a day in the shop's time zone, then moved on by minutes."""

    def __init__(self, zone: tzinfo) -> None:
        self._zone = zone
        self.now: datetime | None = None

    def at(self, day: date, hour: int) -> None:
        self.now = datetime.combine(day, time(hour), self._zone).astimezone(UTC)

    def tick(self, minutes: int) -> None:
        self.now += timedelta(minutes=minutes)
