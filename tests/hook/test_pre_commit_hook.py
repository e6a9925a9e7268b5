"""The hook as a hardware repository meets it: its manifest, its file pattern, and the real pre-commit in a real git."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import yaml

ROOT = Path(__file__).parents[2]
MANIFEST = ROOT / ".pre-commit-hooks.yaml"
DESIGNS = (
    ROOT / "designs" / "greenhouse-vent" / "greenhouse-vent.derate.yaml",
    ROOT / "designs" / "market-stall-lamp" / "market-stall-lamp.derate.yaml",
    ROOT / "tests" / "data" / "designs" / "scale-console-45W.derate.yaml",
    ROOT / "tests" / "data" / "designs" / "led-driver.derate.yaml",
)
(HOOK,) = yaml.safe_load(MANIFEST.read_text(encoding="utf-8"))
PRE_COMMIT = shutil.which("pre-commit", path=f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}")
needs_pre_commit = pytest.mark.skipif(PRE_COMMIT is None, reason="pre-commit is not installed here")

# A house pack of one rule: what stops or does not stop the commit is the hook's business here, not the limits.
PACK = """\
pack: hook-trial
title: One limit for the trials of the hook
covers: a fuse
rules:
  - {rule: fuse-voltage-stated, says: The fuse is rated for the mains., because: An arc feeds itself above it.,
     hazard: fire, severity: critical, applies: {part.kind: fuse}, keep: rated.voltage >= 250 V,
     remedy: "choose a fuse rated {cure} or more", source: house practice, confidence: common practice}
  - {rule: class-stated, says: The plate states the class., because: Its user has to know., hazard: shock,
     severity: critical, about: supply, member: {supply.protection_class: [I, II]}, source: house practice,
     confidence: common practice}
  - {rule: topology-stated, says: The topology is stated., because: Nothing is worked out without., severity: critical,
     hazard: overstress, about: supply, member: {supply.topology: [flyback]}, source: house practice,
     confidence: common practice}
"""
GOOD = """\
derate: 1
supply: {name: Bench lamp, topology: flyback, protection_class: II, parts_list: main parts}
parts:
  F1: {kind: fuse, rated: {voltage: 250 V, current: 1 A}}
"""
BAD = GOOD.replace("voltage: 250 V", "voltage: 125 V")


def _git(folder: Path, *argv: str) -> subprocess.CompletedProcess[str]:
    own = ["-c", "user.name=Bench", "-c", "user.email=bench@example.invalid", "-c", "commit.gpgsign=false"]
    return subprocess.run(
        ["git", *own, *argv], cwd=folder, capture_output=True, text=True, timeout=120, env=_environment(folder)
    )


def _environment(folder: Path) -> dict[str, str]:
    """Nothing of the outer repository, and the interpreter's own commands first."""
    kept = {name: text for name, text in os.environ.items() if not name.startswith(("GIT_", "PRE_COMMIT"))}
    path = f"{Path(sys.executable).parent}{os.pathsep}{kept.get('PATH', '')}"
    return {**kept, "PATH": path, "PRE_COMMIT_HOME": str(folder.parent / "pre-commit-home"), "NO_COLOR": "1"}


def _pre_commit(folder: Path, *argv: str, timeout: float = 120) -> subprocess.CompletedProcess[str]:
    assert PRE_COMMIT is not None
    return subprocess.run(
        [PRE_COMMIT, *argv], cwd=folder, capture_output=True, text=True, timeout=timeout, env=_environment(folder)
    )


def _local(entry: str = "") -> str:
    """A `repo: local` of the very hook in the manifest, run by the interpreter of these tests."""
    hook = {**HOOK, "language": "system", "entry": entry or "derate lint --changed --pack hook-trial"}
    hook.pop("minimum_pre_commit_version")
    return yaml.safe_dump({"repos": [{"repo": "local", "hooks": [hook]}]}, sort_keys=False)


@pytest.fixture
def repository(tmp_path: Path) -> Path:
    folder = tmp_path / "hardware"
    (folder / "rules").mkdir(parents=True)
    (folder / "rules" / "hook-trial.yaml").write_text(PACK)
    (folder / ".pre-commit-config.yaml").write_text(_local())
    assert _git(folder, "init", "-q", "-b", "main").returncode == 0
    return folder


def _commit(folder: Path, **files: str) -> subprocess.CompletedProcess[str]:
    for name, text in files.items():
        (folder / name.replace("__", ".")).write_text(text)
    _git(folder, "add", "-A")
    return _git(folder, "commit", "-m", "one more")


# ---- manifest and pattern --------------------------------------------------------------------------------------------


@needs_pre_commit
def test_the_manifest_is_valid() -> None:
    done = subprocess.run([str(PRE_COMMIT), "validate-manifest", str(MANIFEST)], capture_output=True, text=True)
    assert done.returncode == 0, done.stdout


def test_the_hook_says_what_it_needs() -> None:
    assert HOOK["language"] == "python" and HOOK["types"] == ["yaml"] and HOOK["minimum_pre_commit_version"]
    assert HOOK["entry"] == "derate lint --changed" and "exclude" not in HOOK


@pytest.mark.parametrize(
    ("name", "taken"),
    [
        ("lamp.derate.yaml", True),
        ("lamp.derate.yml", True),
        ("supplies/45 W/console.derate.yaml", True),
        (".derate.yaml", True),  # the settings of a repository
        ("lamp.yaml", True),  # it may be a design under another name
        ("rules/house.yaml", True),
        ("lamp.derate.yaml.orig", False),
        ("lamp.derate.yamlx", False),
        ("lamp.derate.json", False),
        ("notes.txt", False),
    ],
)
def test_the_pattern_takes_whatever_may_be_a_design_settings_or_a_pack(name: str, taken: bool) -> None:
    assert bool(re.search(HOOK["files"], name)) is taken


# ---- the real thing --------------------------------------------------------------------------------------------------


@needs_pre_commit
def test_a_good_design_commits_and_a_bad_one_is_stopped(repository: Path) -> None:
    assert _pre_commit(repository, "install").returncode == 0
    good = _commit(repository, lamp__derate__yaml=GOOD)
    assert good.returncode == 0, good.stdout + good.stderr
    bad = _commit(repository, lamp__derate__yaml=BAD)
    told = bad.stdout + bad.stderr
    assert bad.returncode == 1, told
    assert re.search(r"lamp\.derate\.yaml:4:\d+: fail: F1: .*250 V", told), told
    assert "Choose a fuse rated 250 V or more" in told or "choose a fuse rated 250 V or more" in told
    assert _git(repository, "log", "--oneline").stdout.count("\n") == 1, "nothing was committed"
    unreadable = _commit(repository, lamp__derate__yaml=GOOD.replace("kind: fuse", "kind: fues"))
    assert unreadable.returncode == 1 and ": error: " in unreadable.stdout + unreadable.stderr


@needs_pre_commit
def test_what_is_no_design_is_left_alone(repository: Path) -> None:
    _commit(repository)  # the pack of the trials, before the hook is there
    assert _pre_commit(repository, "install").returncode == 0
    others = {"readme__txt": "x\n", "services__yaml": "services: {derate: 1}\n"}
    done = _commit(repository, notes__yaml="name: broken [\n", **others)
    assert done.returncode == 0, done.stdout + done.stderr
    settings = _commit(repository, __derate__yaml="stop_at: fail\n")
    assert settings.returncode == 0 and (repository / ".derate.yaml").exists()


@needs_pre_commit
@pytest.mark.parametrize("changed", [".derate.yaml", "rules/hook-trial.yaml"])
def test_settings_and_packs_have_every_design_under_them_judged(repository: Path, changed: str) -> None:
    """A design that was good before stops the commit that makes the gate stricter; so it is judged anew."""
    text = GOOD.replace("voltage: 250 V", "voltage: 260 V")
    (repository / "board").mkdir()
    assert _commit(repository, lamp__derate__yaml=text, **{"board/old__derate__yaml": BAD}).returncode == 0
    assert _pre_commit(repository, "install").returncode == 0
    kept = {".derate.yaml": "stop_at: marginal\n", "rules/hook-trial.yaml": PACK.replace(">= 250 V", ">= 251 V")}
    (repository / changed).write_text(kept[changed])
    done = _commit(repository)
    told = done.stdout + done.stderr
    held = "lamp.derate.yaml: overall not judged"
    assert done.returncode == 1 and "board/old.derate.yaml" in told and held in told, told


@needs_pre_commit
def test_only_the_designs_of_the_commit_are_judged(repository: Path) -> None:
    """A design that was bad before does not stop a commit that leaves it alone."""
    assert _commit(repository, old__derate__yaml=BAD).returncode == 0  # the hook is not installed yet
    assert _pre_commit(repository, "install").returncode == 0
    done = _commit(repository, lamp__derate__yaml=GOOD)
    assert done.returncode == 0 and "old.derate.yaml" not in done.stdout + done.stderr


@needs_pre_commit
def test_twenty_whole_designs_are_judged_by_few_processes(repository: Path) -> None:
    """Four whole designs five times each, with the packs they name: one start of derate a core, not one a design."""
    starts = repository.parent / "starts"
    entry = repository.parent / "counted"
    entry.write_text(f'#!/bin/sh\necho "$#" >> "{starts}"\nexec derate lint --changed --today 2026-11-25 "$@"\n')
    entry.chmod(0o755)
    for number in range(20):
        text = DESIGNS[number % len(DESIGNS)].read_text(encoding="utf-8")
        (repository / f"supply-{number:02}.derate.yaml").write_text(text)
    (repository / ".pre-commit-config.yaml").write_text(_local(str(entry)))
    _git(repository, "add", "-A")
    done = _pre_commit(repository, "run", "--all-files")
    told = done.stdout + done.stderr
    assert "derate" in done.stdout and done.returncode in (0, 1), told
    assert "should not happen" not in told and ": error: " not in told and told.count("supply-") >= 20, told
    files = [int(line) for line in starts.read_text().split()]
    assert sum(files) == 22  # with the pack and the settings of pre-commit itself
    assert len(files) <= max(1, os.cpu_count() or 1)


@needs_pre_commit
def test_the_hook_from_its_repository(tmp_path: Path, repository: Path) -> None:
    """`try-repo` builds and installs the package: it needs a registry, or a wheelhouse named in the environment."""
    (repository / "lamp.derate.yaml").write_text(BAD)
    (repository / ".derate.yaml").write_text("packs: [hook-trial]\n")
    _git(repository, "add", "-A")
    done = _pre_commit(
        repository, "try-repo", str(ROOT), "derate", "--ref", "HEAD", "--files", "lamp.derate.yaml", timeout=300
    )
    told = done.stdout + done.stderr
    if "Could not find a version" in told or "No matching distribution" in told or "ConnectionError" in told:
        pytest.skip("the build backend could not be fetched: no network and no wheelhouse")
    assert done.returncode == 1 and "lamp.derate.yaml:4:" in told and "fail: F1" in told, told[-2000:]
