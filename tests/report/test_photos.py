"""Photos named as evidence: found, scaled, stripped; never read from outside the repository."""

from __future__ import annotations

import base64
import io
import os
from pathlib import Path

import pytest
from PIL import Image

from derate.ledger.entry import Entry, Subject
from derate.report.document import Photo, photos


def _entry(number: int, note: str) -> Entry:
    return Entry(number, Subject("barrier", ("gap",)), "found.clearance", None, None, note=note)


@pytest.fixture
def repository(tmp_path: Path) -> Path:
    (tmp_path / "repo/.git").mkdir(parents=True)
    (tmp_path / "repo/supply/photos").mkdir(parents=True)
    return tmp_path / "repo"


def _picture(path: Path, size: tuple[int, int] = (3000, 1500)) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # turned by a quarter
    exif[0x010F] = "a maker"
    Image.new("RGB", size, "navy").save(path, exif=exif)


def _found(repository: Path, *notes: str, folder: str | None = "photos/") -> tuple[Photo, ...]:
    entries = [_entry(number, note) for number, note in enumerate(notes, 1)]
    return photos(entries, folder, str(repository / "supply/design.yaml"))


def test_a_photo_is_scaled_turned_and_without_its_particulars(repository: Path) -> None:
    _picture(repository / "supply/photos/7.jpg")
    (photo,) = _found(repository, "photo 7, board cleaned first")
    assert photo.rows == {1} and (photo.width, photo.height) == (320, 640) and not photo.why
    head, _, data = photo.data.partition(",")
    assert head == "data:image/jpeg;base64"
    with Image.open(io.BytesIO(base64.b64decode(data))) as shown:
        assert shown.size == (320, 640) and not shown.getexif()
    assert photo == _found(repository, "photo 7, board cleaned first")[0]


def test_several_photos_in_one_note(repository: Path) -> None:
    for number in (2, 3, 11):
        _picture(repository / f"supply/photos/{number}.png", (40, 20))
    found = _found(repository, "photos 2, 3 and 11", "see photo 3")
    assert [(one.name, sorted(one.rows)) for one in found] == [("2", [1]), ("3", [1, 2]), ("11", [1])]
    assert all(one.data for one in found)


def test_a_link_out_of_the_repository_is_not_followed(repository: Path) -> None:
    outside = repository.parent / "secret.jpg"
    _picture(outside, (10, 10))
    os.symlink(outside, repository / "supply/photos/7.jpg")
    (photo,) = _found(repository, "photo 7")
    assert not photo.data and "outside the repository" in photo.why


@pytest.mark.parametrize("folder", ["../../", "../../elsewhere", "/etc"])
def test_a_folder_outside_the_repository_is_not_read(repository: Path, folder: str) -> None:
    _picture(repository.parent / "7.jpg", (10, 10))
    (photo,) = _found(repository, "photo 7", folder=folder)
    assert not photo.data and "outside the repository" in photo.why


def test_what_is_no_photo_is_said_to_be_none(repository: Path) -> None:
    (repository / "supply/photos/7.jpg").write_text("<svg onload='x'>", encoding="utf-8")
    assert "cannot be read as a photo" in _found(repository, "photo 7")[0].why
    assert "there is no 8" in _found(repository, "photo 8")[0].why
    assert "names no folder" in _found(repository, "photo 8", folder=None)[0].why
    assert _found(repository, "a photograph was taken") == ()
