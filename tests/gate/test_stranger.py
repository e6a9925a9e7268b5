"""A stranger's change in a repository made by git itself: each way ends in exit 2, or blocks with words at the top."""

from __future__ import annotations

import shutil
import subprocess

import pytest
from gate_bench import DESIGN, LAMP, SHIPPED, Bench, holds, house

ALL = ", ".join(SHIPPED)
OTHER = DESIGN.replace("Bench lamp", "Other lamp")
OFF = "switch_off:\n  bulk-capacitor-voltage: {reason: r}\n"
ASSUMED = (
    "pack: own\ntitle: t\ncovers: c\nbuilds_on: [mains-fusing]\nassumptions: {mains_resistance: {value: 4..5 ohm, "
    "bounding: none, says: s, source: s, confidence: common practice}}\nrules: []\n"
)
REVISION = "derate: 1\nrevision_of: first.yaml\nsupply: {name: Rev, basis: own design}\nparts: {}\n"
WAYS: dict[str, tuple[dict[str, str], str]] = {
    "another case of the name": (
        {LAMP: DESIGN + "packs: [commercial-practice, ./x/Mains-Fusing.yaml]\n",
         "x/Mains-Fusing.yaml": holds("mains-fusing")},
        "house pack (x/Mains-Fusing.yaml): mains-fusing: not the shipped one",
    ),
    "a line end more": (
        {LAMP: DESIGN + "packs: [./x/a.yaml]\n", "x/a.yaml": holds("insulation-it-equipment") + "\n"},
        "house pack (x/a.yaml): insulation-it-equipment: not the shipped one",
    ),
    "one pack of three": ({LAMP: DESIGN + "packs: [mains-fusing]\n"}, f"pack left out ({LAMP}): commercial-practice"),
    "a revision of a file that names few packs": (
        {"first.yaml": OTHER + "packs: [mains-fusing]\n", LAMP: REVISION},
        f"pack left out ({LAMP}): commercial-practice",
    ),
    "switched off two packs below": (
        {LAMP: DESIGN + f"packs: [{ALL}, top]\n",
         "rules/low.yaml": house("low", OFF), "rules/top.yaml": house("top", "", "low")},
        "switched off (low): bulk-capacitor-voltage",
    ),
    "assumed by a pack that builds on another": (
        {LAMP: DESIGN + f"packs: [{ALL}, own]\n", "rules/own.yaml": ASSUMED},
        "assumption (own): mains_resistance: 4 to 5 ohm",
    ),
    "settings at the root": ({LAMP: DESIGN, ".derate.yaml": "stop_at: fail\n"}, "level (.derate.yaml): "),
    "settings at the root name few packs": (
        {LAMP: DESIGN, ".derate.yaml": "packs: [insulation-household]\n"},
        "pack left out (.derate.yaml): commercial-practice, mains-fusing",
    ),
    "longer signatures": (
        {LAMP: DESIGN, ".derate.yaml": "longest_days: 99999\n"},
        "setting (.derate.yaml): longest_days",
    ),
}  # fmt: skip
REFUSED: dict[str, tuple[dict[str, str], str]] = {
    "a softer level below": (
        {"b/.derate.yaml": "stop_at: fail\n", "b/a.derate.yaml": OTHER},
        "asks less than the settings",
    ),
    "a severity relaxed": (
        {LAMP: DESIGN + "packs: [house]\n",
         "rules/house.yaml": house("house", "relax:\n  bulk-capacitor-voltage: {severity: minor, reason: r}\n")},
        "'severity' is no key of relax",
    ),
    "a pack that switches off and gives no reason": (
        {LAMP: DESIGN + "packs: [house]\n", "rules/house.yaml": house("house", OFF.replace("reason: r", ""))},
        "reason",
    ),
    "a shipped name beside the design": (
        {LAMP: DESIGN + "packs: [mains-fusing]\n", "rules/mains-fusing.yaml": holds("mains-fusing")},
        "stands both among the shipped ones and in",
    ),
}  # fmt: skip


@pytest.fixture
def repository(bench: Bench) -> Bench:
    """The repository of the bench, made by git where it is there."""
    if shutil.which("git") is not None:
        (bench.folder / ".git").rmdir()
        subprocess.run(["git", "init", "-q", str(bench.folder)], check=True)
    return bench


@pytest.mark.parametrize("way", WAYS)
def test_a_way_that_is_told_at_the_top(way: str, repository: Bench) -> None:
    files, said = WAYS[way]
    for path, text in files.items():
        repository.put(path, text)
    told = repository.run()
    assert told.status == 1 and any(said in line for line in told.softer), (told.softer, told.err)
    assert repository.run("--shipped-gate").softer == []


@pytest.mark.parametrize("way", REFUSED)
def test_a_way_that_is_refused(way: str, repository: Bench) -> None:
    files, said = REFUSED[way]
    for path, text in files.items():
        repository.put(path, text)
    told = repository.run(".")
    assert told.status == 2 and said in told.err, told.err
