"""From a list of parts to a kit on the truck, and back."""

from __future__ import annotations

from collections.abc import Generator
from typing import Any

from inventory.models import CutPiece, CutPlanBar, KitLine
from tests.api.acts import Call, Chapter, World, shown
from tests.api.acts.stock import bolt

chapter = Chapter()
step = chapter.step
Steps = Generator[Call, Any, None]


def open_kit(w: World, reference: str, bolts: int = 8, priority: int = 1) -> dict[str, Any]:
    lines = [{"part": w["bolt"]["id"], "quantity": bolts}]
    body = {"branch": w.branch.pk, "reference": reference, "priority": priority, "lines": lines}
    kit: dict[str, Any] = w.post("kits", body)
    return kit


def line_of(kit: dict[str, Any], part: dict[str, Any]) -> int:
    return next(int(line["id"]) for line in kit["lines"] if line["part"] == part["id"])


def saw_all(w: World) -> None:
    """Saw every bar that a frozen plan of the kit still has."""
    w.work()
    for plan in w.get(f"cutting-plans?kits={w['kit']['id']}")["results"]:
        if plan["status"] == "draft":
            plan = w.post(f"cutting-plans/{plan['id']}/start-sawing")
        for bar in plan["bars"]:
            if plan["status"] == "frozen" and bar["status"] == "planned":
                w.post(f"cutting-plans/{plan['id']}/record-sawn", {"bar": bar["id"]})


@step("POST kits")
def create_kit(w: World) -> Steps:
    beam = shown("POST parts", company=w.branch.company_id)
    w["beam"], w["bolt"] = w.post("parts", beam), w.post("parts", bolt(w))
    w["longer"] = w.post("parts", bolt(w, "BOLT-4"))
    w["bin"] = w.post("bins", {"branch": w.branch.pk, "name": "rack 4"})
    lines = [
        {"part": w["beam"]["id"], "length": "20 ft", "quantity": 8, "cents": 128_160},
        {"part": w["bolt"]["id"], "packs": 2, "cents": 13_000},
        {"part": w["longer"]["id"], "packs": 1, "cents": 7_000},
    ]
    w.post("receipts", {"branch": w.branch.pk, "lines": lines})
    keys = {"lines_0_part": w["beam"]["id"], "lines_1_part": w["bolt"]["id"]}
    w["kit"] = yield Call(shown("POST kits", branch=w.branch.pk, **keys))
    w["pieces"] = line_of(w["kit"], w["beam"])
    w["bolts"] = line_of(w["kit"], w["bolt"])


@step("POST kits/{pk}/reserve")
def reserve(w: World) -> Steps:
    yield Call(shown("POST kits/{pk}/reserve"), w["kit"]["id"])


@step("POST kits/{pk}/release")
def release(w: World) -> Steps:
    yield Call(None, w["kit"]["id"])
    w.post(f"kits/{w['kit']['id']}/reserve")


@step("POST kits/{pk}/remeasure")
def remeasure(w: World) -> Steps:
    body = shown("POST kits/{pk}/remeasure", line=w["pieces"])
    yield Call(body, w["kit"]["id"], {"line": KitLine})


@step("POST cutting-plans")
def ask_for_plans(w: World) -> Steps:
    body = shown("POST cutting-plans", kits_0=w["kit"]["id"])
    yield Call(body)
    w.work()
    (w["plan"],) = w.get(f"cutting-plans?kits={w['kit']['id']}")["results"]
    assert w["plan"]["status"] == "draft", w["plan"]


@step("POST cutting-plans/{pk}/cancel")
def cancel_plan(w: World) -> Steps:
    yield Call(None, w["plan"]["id"])
    w.post("cutting-plans", {"kits": [w["kit"]["id"]]})
    w.work()
    plans = w.get(f"cutting-plans?kits={w['kit']['id']}")["results"]
    w["plan"] = next(plan for plan in plans if plan["status"] == "draft")


@step("POST cutting-plans/{pk}/start-sawing")
def start_sawing(w: World) -> Steps:
    w["plan"] = yield Call(None, w["plan"]["id"])


@step("POST cutting-plans/{pk}/record-sawn")
def record_sawn(w: World) -> Steps:
    body = shown("POST cutting-plans/{pk}/record-sawn", bar=w["plan"]["bars"][0]["id"])
    w["plan"] = yield Call(body, w["plan"]["id"], {"bar": CutPlanBar})


@step("POST cutting-plans/{pk}/record-mis-cut")
def record_mis_cut(w: World) -> Steps:
    piece = w["plan"]["bars"][0]["pieces"][0]["id"]
    body = shown("POST cutting-plans/{pk}/record-mis-cut", piece=piece)
    w["plan"] = yield Call(body, w["plan"]["id"], {"piece": CutPiece})


@step("POST cutting-plans/{pk}/record-scrapped")
def record_scrapped(w: World) -> Steps:
    piece = w["plan"]["bars"][0]["pieces"][1]["id"]
    body = shown("POST cutting-plans/{pk}/record-scrapped", piece=piece)
    yield Call(body, w["plan"]["id"], {"piece": CutPiece})
    saw_all(w)


@step("POST kits/{pk}/start-pulling")
def start_pulling(w: World) -> Steps:
    yield Call(None, w["kit"]["id"])


@step("POST kits/{pk}/pull")
def pull(w: World) -> Steps:
    body = shown("POST kits/{pk}/pull", line=w["bolts"])
    yield Call(body, w["kit"]["id"], {"line": KitLine})


@step("POST kits/{pk}/short")
def short(w: World) -> Steps:
    body = shown("POST kits/{pk}/short", line=w["bolts"])
    yield Call(body, w["kit"]["id"], {"line": KitLine})


@step("POST kits/{pk}/substitute")
def substitute(w: World) -> Steps:
    body = shown("POST kits/{pk}/substitute", line=w["bolts"], part=w["longer"]["id"])
    yield Call(body, w["kit"]["id"], {"line": KitLine})
    for line in w.get(f"kits/{w['kit']['id']}")["lines"]:
        if left := line["quantity"] - line["pulled"] - line["short"]:
            w.post(f"kits/{w['kit']['id']}/pull", {"line": line["id"], "quantity": left})


@step("POST kits/{pk}/stage")
def stage(w: World) -> Steps:
    yield Call(None, w["kit"]["id"])


@step("POST kits/{pk}/load")
def load(w: World) -> Steps:
    yield Call(None, w["kit"]["id"])


@step("POST kits/{pk}/return")
def return_kit(w: World) -> Steps:
    keys = {"lines_0_line": w["bolts"], "scrapped_0_line": w["bolts"]}
    body = shown("POST kits/{pk}/return", **keys)
    yield Call(body, w["kit"]["id"], {"line": KitLine})


@step("POST kits/{pk}/put-back")
def put_back(w: World) -> Steps:
    kit = w["second"] = open_kit(w, "second")
    for verb in ("reserve", "start-pulling"):
        w.post(f"kits/{kit['id']}/{verb}")
    line = {"line": line_of(kit, w["bolt"]), "quantity": 8}
    w.post(f"kits/{kit['id']}/pull", line)
    yield Call(None, kit["id"])


@step("POST kits/{pk}/use")
def use(w: World) -> Steps:
    kit = w["second"]
    for verb in ("reserve", "start-pulling"):
        w.post(f"kits/{kit['id']}/{verb}")
    w.post(f"kits/{kit['id']}/pull", {"line": line_of(kit, w["bolt"]), "quantity": 8})
    for verb in ("stage", "load"):
        w.post(f"kits/{kit['id']}/{verb}")
    yield Call(None, kit["id"])


@step("POST kits/{pk}/take-over")
def take_over(w: World) -> Steps:
    donor, taker = open_kit(w, "donor", 60), open_kit(w, "taker", 60, priority=4)
    w.post(f"kits/{donor['id']}/reserve")
    w["donor"] = donor
    yield Call(shown("POST kits/{pk}/take-over", donors_0=donor["id"]), taker["id"])


@step("POST kits/{pk}/cancel")
def cancel(w: World) -> Steps:
    yield Call(None, w["donor"]["id"])
