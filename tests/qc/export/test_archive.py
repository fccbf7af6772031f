import io
import zipfile

import pytest

from qc.errors import FileError
from qc.export import archive

ENTRIES = {"b.txt": b"second", "a.txt": b"first" * 100}


def zipped(tmp_path, names):
    place = tmp_path / "strange.zip"
    with zipfile.ZipFile(place, "w") as packed:
        for name in names:
            packed.writestr(zipfile.ZipInfo(name), b"x")
    return place


def test_the_same_contents_give_the_same_bytes_whatever_their_order():
    assert archive.content(ENTRIES) == archive.content(dict(reversed(ENTRIES.items())))


def test_contents_come_back(tmp_path):
    place = tmp_path / "good.zip"
    place.write_bytes(archive.content(ENTRIES))
    assert archive.read(place) == ENTRIES


def test_a_tampered_entry_is_damaged_and_the_others_are_read(tmp_path):
    packed = bytearray(archive.content(ENTRIES))
    with zipfile.ZipFile(io.BytesIO(packed)) as opened:
        start = opened.getinfo("b.txt").header_offset + 30 + len("b.txt")
    packed[start + 3] ^= 0xFF
    place = tmp_path / "tampered.zip"
    place.write_bytes(packed)
    assert archive.read(place) == {"a.txt": ENTRIES["a.txt"], "b.txt": None}


@pytest.mark.parametrize("name", ["../out.txt", "/etc/x", "a/../../b", "c:\\x", "a\\b", "x" * 300])
def test_a_name_that_leads_elsewhere_is_refused(tmp_path, name):
    with pytest.raises(FileError, match="was not opened"):
        archive.read(zipped(tmp_path, [name]))


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_two_files_of_one_name_are_refused(tmp_path):
    with pytest.raises(FileError, match="two files of one name"):
        archive.read(zipped(tmp_path, ["a", "a"]))


def test_more_than_a_pack_holds_is_not_unpacked(tmp_path, monkeypatch):
    monkeypatch.setattr(archive, "MOST_BYTES", 400)
    place = tmp_path / "big.zip"
    place.write_bytes(archive.content(ENTRIES))
    with pytest.raises(FileError, match="was not opened"):
        archive.read(place)


def test_a_zip_that_lies_about_a_size_is_not_unpacked(tmp_path):
    packed = archive.content({"a": bytes(100_000)})
    # the announced size stands in the entry's head and in the directory at the end
    lied = packed.replace((100_000).to_bytes(4, "little"), (10).to_bytes(4, "little"))
    assert lied != packed
    place = tmp_path / "liar.zip"
    place.write_bytes(lied)
    assert archive.read(place) == {"a": None}


@pytest.mark.parametrize("content", [b"", b"no zip at all", b"PK\x03\x04broken"])
def test_what_is_no_zip_is_refused_in_a_sentence(tmp_path, content):
    place = tmp_path / "x.zip"
    place.write_bytes(content)
    with pytest.raises(FileError, match="is no whole zip file"):
        archive.read(place)


def test_a_pack_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(FileError, match="no pack stands at"):
        archive.read(tmp_path / "none.zip")
