"""Checks a visit-plan/1 document against its service-visits/1 document, from the raw text only."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from typing import Any

from contractor.engine.rostering.routing_check import Violation

STOP_KEYS = ("visit", "member", "day", "arrive", "start", "finish", "window")


def check_visits(problem: dict[str, Any], plan: Any) -> list[Violation]:
    """Return everything that is wrong with ``plan``; an empty list means nothing is.

    Codes: plan_malformed, visit_unknown, visit_twice, visit_unaccounted, visit_both,
    required_missed, member_day_unknown, skill_lacking, member_not_allowed, window_unknown,
    outside_window, wrong_duration, travel_too_short, starts_before_shift, ends_after_shift,
    day_too_long, cost_wrong, feasible_wrong.
    """
    try:
        return _Checker(problem, plan).run()
    except (KeyError, TypeError, ValueError, AttributeError, IndexError) as error:
        return [Violation("plan_malformed", f"the plan cannot be read: {error!r}")]


def _minute(text: str) -> int:
    hours, minutes = text.split(":")
    return int(hours) * 60 + int(minutes)


class _Checker:
    def __init__(self, problem: dict[str, Any], plan: dict[str, Any]) -> None:
        if plan["schema"] != "visit-plan/1":
            raise ValueError(plan["schema"])
        self.visits = {visit["id"]: visit for visit in problem["visits"]}
        self.days = {(one["member"], one["day"]): one for one in problem["member_days"]}
        self.places = list(problem["places"])
        self.minutes = problem["minutes"]
        self.rate = problem.get("travel_min", 1)
        self.plan = plan
        self.stops: list[dict[str, Any]] = plan["stops"]
        self.missed = [one["visit"] for one in plan["missed"]]
        self.found: list[Violation] = []

    def say(self, code: str, text: str) -> None:
        self.found.append(Violation(code, text))

    def run(self) -> list[Violation]:
        for stop in self.stops:
            if set(stop) != set(STOP_KEYS):
                raise ValueError(sorted(stop))
        self._names()
        if any(one.code.endswith("_unknown") for one in self.found):
            return self.found
        for stop in self.stops:
            self._stop(stop)
        routes: dict[tuple[str, str], list[dict[str, Any]]] = {}
        for stop in self.stops:
            routes.setdefault((stop["member"], stop["day"]), []).append(stop)
        travel = sum(self._route(self.days[key], stops) for key, stops in routes.items())
        is_feasible = not self.found
        self._figures(travel, routes)
        if self.plan["feasible"] is not is_feasible:
            self.say("feasible_wrong", f"feasible is said to be {self.plan['feasible']}")
        return self.found

    def _names(self) -> None:
        made = Counter(stop["visit"] for stop in self.stops)
        for name in [*made, *self.missed]:
            if name not in self.visits:
                self.say("visit_unknown", f"there is no visit {name}")
        for name, visit in self.visits.items():
            if made[name] > 1 or self.missed.count(name) > 1:
                self.say("visit_twice", f"visit {name} comes more than once")
            if not made[name] and name not in self.missed:
                self.say("visit_unaccounted", f"visit {name} is neither made nor missed")
            if made[name] and name in self.missed:
                self.say("visit_both", f"visit {name} is both made and missed")
            if name in self.missed and visit.get("missed_cost") is None:
                self.say("required_missed", f"visit {name} must be made")
        for stop in self.stops:
            if (stop["member"], stop["day"]) not in self.days:
                self.say("member_day_unknown", f"{stop['member']} is off on {stop['day']}")
            elif stop["visit"] in self.visits:
                windows = self.visits[stop["visit"]]["windows"]
                if stop["window"] not in range(len(windows)):
                    self.say("window_unknown", f"visit {stop['visit']} has no such window")

    def _stop(self, stop: dict[str, Any]) -> None:
        name, visit = stop["visit"], self.visits[stop["visit"]]
        day = self.days[stop["member"], stop["day"]]
        lacking = set(visit.get("skills") or ()) - set(day.get("skills") or ())
        if lacking:
            self.say("skill_lacking", f"{stop['member']} lacks {sorted(lacking)} for {name}")
        members = visit.get("members")
        if members is not None and stop["member"] not in members:
            self.say("member_not_allowed", f"{stop['member']} may not make {name}")
        window = visit["windows"][stop["window"]]
        start = _minute(stop["start"])
        is_inside = _minute(window["from"]) <= start <= _minute(window["to"])
        if window["day"] != stop["day"] or not is_inside:
            self.say("outside_window", f"{name} starts outside its window")
        if _minute(stop["finish"]) - start != visit["minutes"]:
            self.say("wrong_duration", f"{name} takes {visit['minutes']} minutes")

    def _drive(self, a: str, b: str) -> int:
        return int(self.minutes[self.places.index(a)][self.places.index(b)])

    def _route(self, day: dict[str, Any], stops: list[dict[str, Any]]) -> int:
        """Check one member's day; return the minutes driven."""
        who = f"{day['member']} on {day['day']}"
        ordered = sorted(stops, key=lambda stop: (_minute(stop["start"]), _minute(stop["finish"])))
        first = self.visits[ordered[0]["visit"]]["place"]
        travel = self._drive(day["start"], first)
        leave = _minute(ordered[0]["arrive"]) - travel
        if leave < _minute(day["from"]):
            self.say("starts_before_shift", f"{who}: leaves before {day['from']}")
        for stop in ordered:
            if _minute(stop["arrive"]) > _minute(stop["start"]):
                self.say("travel_too_short", f"{who}: {stop['visit']} starts before the arrival")
        for one, other in pairwise(ordered):
            drive = self._drive(
                self.visits[one["visit"]]["place"], self.visits[other["visit"]]["place"]
            )
            travel += drive
            if _minute(one["finish"]) + drive > _minute(other["arrive"]):
                self.say("travel_too_short", f"{who}: no time to drive to {other['visit']}")
        last = self._drive(self.visits[ordered[-1]["visit"]]["place"], day["end"])
        back = _minute(ordered[-1]["finish"]) + last
        if back > _minute(day["to"]):
            self.say("ends_after_shift", f"{who}: is back after {day['to']}")
        limit = day.get("max_minutes")
        if limit is not None and back - leave > limit:
            self.say("day_too_long", f"{who}: {back - leave} minutes of {limit}")
        return travel + last

    def _figures(self, travel: int, routes: dict[tuple[str, str], list[Any]]) -> None:
        windows = sum(
            self.visits[stop["visit"]]["windows"][stop["window"]].get("cost") or 0
            for stop in self.stops
        )
        missed = sum(self.visits[name].get("missed_cost") or 0 for name in self.missed)
        days = sum(self.days[key].get("day_cost") or 0 for key in routes)
        parts = {"travel": travel * self.rate, "days": days, "windows": windows, "missed": missed}
        if self.plan["cost"] != {**parts, "total": sum(parts.values())}:
            self.say("cost_wrong", f"the cost is {parts}")
        if self.plan["travel_minutes"] != travel:
            self.say("cost_wrong", f"{travel} minutes are driven")
