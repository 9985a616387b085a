"""Trucks on site over time, and what their waiting costs."""

import datetime as dt
from collections.abc import Sequence
from itertools import pairwise

from wetfront.delivery.loads import minutes, on_site_min
from wetfront.nouns.delivery import DeliveryRow
from wetfront.nouns.delivery_day import Queue, QueuePoint


def queue_of(rows: Sequence[DeliveryRow], waiting_places: int, free_min: float, cu_per_min: float) -> Queue:
    """The queue. A truck is on site from its arrival until it has left, and waits until its discharge begins.

    A truck that leaves in the minute in which another arrives is not counted with it. The refused load waits until it
    leaves. Loads without arrival or leaving are named and left out.
    """
    known = [row for row in rows if row.load.arrived is not None and row.left_site is not None]
    points = _points(known)
    most = max((point.on_site for point in points), default=0)
    first = next((place for place, point in enumerate(points) if point.on_site == most), None)
    over = [max(0.0, (on_site_min(row) or 0.0) - free_min) for row in known]
    spans = pairwise(points)
    return Queue(
        points=points,
        most_on_site=most,
        most_from=None if first is None or not most else points[first].at,
        most_until=None if first is None or not most else points[first + 1].at,
        most_waiting=max((point.waiting for point in points), default=0),
        over_places_min=sum(minutes(here.at, then.at) for here, then in spans if here.waiting > waiting_places),
        waiting_places=waiting_places,
        waiting_min=sum(over),
        free_min=free_min,
        waiting_cu=sum(over) * cu_per_min,
        unknown=tuple(row.number for row in rows if row not in known),
    )


def _points(rows: Sequence[DeliveryRow]) -> tuple[QueuePoint, ...]:
    """The counts after each moment at which one of them changes; the last one is empty."""
    spans: list[tuple[dt.datetime, dt.datetime, dt.datetime]] = []
    for row in rows:
        assert row.load.arrived is not None and row.left_site is not None
        spans.append((row.load.arrived, row.load.discharge_start or row.left_site, row.left_site))
    changes: dict[dt.datetime, tuple[int, int]] = {}
    for arrived, begins, left in spans:
        for moment, on_site, waiting in ((arrived, 1, 1), (begins, 0, -1), (left, -1, 0)):
            here = changes.get(moment, (0, 0))
            changes[moment] = (here[0] + on_site, here[1] + waiting)
    points: list[QueuePoint] = []
    on_site = waiting = 0
    for moment in sorted(changes):
        more, wait = changes[moment]
        if not more and not wait:
            continue
        on_site, waiting = on_site + more, waiting + wait
        points.append(QueuePoint(at=moment, on_site=on_site, waiting=waiting))
    return tuple(points)
