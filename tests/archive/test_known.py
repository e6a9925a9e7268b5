"""Known findings over an archive: held back as `lint` holds them, as long as the record is signed for."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from archive_bench import DAY, Watched, folder_of, lamp, opened

from derate.cli.main import main

LAST = DAY + timedelta(100)


def _recorded(home: Path, beside: Path) -> Path:
    """A record of everything that blocks in the designs of a folder."""
    record = beside / "known.json"
    words = ["--reason", "old designs", "--by", "A. Person", "--last-day", LAST.isoformat(), "--today", DAY.isoformat()]
    assert main(["lint", str(home), "--record", str(record), *words]) == 1
    return record


def _asked(capsys: pytest.CaptureFixture[str], home: Path, *words: str) -> tuple[int, dict[str, Any]]:
    capsys.readouterr()
    status = main(["archive", str(home), "--jobs", "1", "--format", "json", *words])
    return status, json.loads(capsys.readouterr().out)["overview"][0]


def test_what_is_known_is_held_back_as_lint_holds_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its rows stay and do not block; beyond the last day of the record all of it is judged again, and blocks."""
    home = folder_of(tmp_path, 2)
    record = _recorded(home, tmp_path)
    watched = Watched(monkeypatch)
    on, known = ["--today", DAY.isoformat()], ["--known", str(record)]
    status, plain = _asked(capsys, home, *on)
    assert status == 1 and plain["blocking"] > 2 and watched.since() == ["lamp-0", "lamp-1"]
    status, held = _asked(capsys, home, *on, *known)
    assert (status, held["blocking"], watched.since()) == (0, 0, ["lamp-0", "lamp-1"])
    with opened(home) as store:
        sql = (
            "SELECT count(*) FROM finding JOIN judged USING (result) WHERE run = 2 AND signed = 'known' AND NOT blocks"
        )
        back = store.rows("SELECT sum(held_back) FROM result JOIN judged USING (result) WHERE run = 2")
        assert back == [(plain["blocking"],)] and store.rows(sql)[0][0] >= plain["blocking"]
    for day, judged, blocking in ((LAST, [], 0), (LAST + timedelta(1), ["lamp-0", "lamp-1"], plain["blocking"])):
        status, then = _asked(capsys, home, "--today", day.isoformat(), *known)
        assert (day, watched.since(), then["blocking"]) == (day, judged, blocking)
    (home / "lamp-0.derate.yaml").write_text(lamp("Lamp 0", 250), encoding="utf-8")
    status, worse = _asked(capsys, home, *on, *known)
    assert status == 1 and 0 < worse["blocking"] < plain["blocking"]


def test_another_record_judges_again_and_a_bad_one_judges_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    home = folder_of(tmp_path, 1)
    record = _recorded(home, tmp_path)
    watched = Watched(monkeypatch)
    words = ["--today", DAY.isoformat(), "--known", str(record)]
    for judged in (["lamp-0"], []):
        assert _asked(capsys, home, *words)[1]["blocking"] == 0 and watched.since() == judged
    said = json.loads(record.read_text(encoding="utf-8"))
    said["known"] = {}
    record.write_text(json.dumps(said), encoding="utf-8")
    assert _asked(capsys, home, *words)[1]["blocking"] > 0 and watched.since() == ["lamp-0"]
    record.write_text("{}", encoding="utf-8")
    assert main(["archive", str(home), *words]) == 2 and watched.since() == []
    assert main(["archive", str(home), "--shipped-gate", *words]) == 2
    assert "--shipped-gate and --known do not go together" in capsys.readouterr().err
