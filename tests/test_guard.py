"""Files that must not be parsed: one clear sentence for each, and the next step."""

import os
import zipfile

import pytest
from workbooks.as_strict import as_strict
from workbooks.make import candidate_workbook, read_cells, with_part

from batch.findings import StudyError
from batch.reading import guard


def refusal(path) -> StudyError:
    """The error with which a file is refused; what and next step are one sentence each."""
    with pytest.raises(StudyError) as caught:
        read_cells(path)
    error = caught.value
    assert error.what.endswith(".") and error.next_step.endswith(".")
    assert "\n" not in str(error) and "Traceback" not in str(error)
    return error


def archive(path, parts: dict, compression=zipfile.ZIP_DEFLATED):
    with zipfile.ZipFile(path, "w", compression) as made:
        for name, content in parts.items():
            made.writestr(name, content)
    return path


def test_good_workbook_passes(tmp_path):
    path = candidate_workbook(tmp_path)
    file = guard.check_file(path)
    assert (file.path, file.content) == (path, path.read_bytes())


def test_missing_file(tmp_path):
    assert "no file" in refusal(tmp_path / "absent.xlsx").what


def test_folder(tmp_path):
    assert "folder" in refusal(tmp_path).what


def test_empty_file(tmp_path):
    path = tmp_path / "empty.xlsx"
    path.touch()
    assert "is empty" in refusal(path).what


def test_text_file_named_xlsx(tmp_path):
    path = tmp_path / "notes.xlsx"
    path.write_text("candidate_id,flow_gpm\nF-1,800\n")
    assert "not an Excel workbook" in refusal(path).what


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes on this system")
def test_named_pipe_does_not_hang(tmp_path):
    path = tmp_path / "pipe.xlsx"
    os.mkfifo(path)
    assert "not a regular file" in refusal(path).what


def test_name_with_nul_byte():
    assert "cannot be reached" in refusal("a\0b.xlsx").what


def test_password_protected_workbook(tmp_path):
    # An encrypted workbook is a compound file with the stream EncryptedPackage.
    # Source: MS-OFFCRYPTO, section 2.3.4.
    path = tmp_path / "locked.xlsx"
    path.write_bytes(guard.OLE_SIGNATURE + b"\0" * 600 + "EncryptedPackage".encode("utf-16-le"))
    assert "password" in refusal(path).what


def test_old_xls_format(tmp_path):
    path = tmp_path / "old.xlsx"
    path.write_bytes(guard.OLE_SIGNATURE + b"\0" * 600 + "Workbook".encode("utf-16-le"))
    assert "old .xls format" in refusal(path).what


def test_truncated_workbook(tmp_path):
    path = candidate_workbook(tmp_path)
    path.write_bytes(path.read_bytes()[:-400])
    assert refusal(path).next_step


@pytest.mark.parametrize("share", [0.1, 0.3, 0.5, 0.7, 0.9])
def test_workbook_with_damaged_bytes(tmp_path, share):
    path = candidate_workbook(tmp_path)
    content = bytearray(path.read_bytes())
    start = int(len(content) * share)
    content[start:start + 60] = b"\xff" * 60
    path.write_bytes(content)
    refusal(path)


def test_plain_archive(tmp_path):
    assert "an archive" in refusal(archive(tmp_path / "a.xlsx", {"a.txt": "x"})).what


def test_open_document_spreadsheet(tmp_path):
    path = archive(tmp_path / "a.xlsx", {"mimetype": "application/vnd.oasis", "content.xml": "x"})
    assert "OpenDocument" in refusal(path).what


def test_text_document_named_xlsx(tmp_path):
    path = archive(tmp_path / "a.xlsx", {
        guard.CONTENT_TYPES: "<Types>wordprocessingml.document.main+xml</Types>"})
    assert "not a workbook" in refusal(path).what


def test_macros_are_refused(tmp_path):
    path = with_part(candidate_workbook(tmp_path), "xl/vbaProject.bin", lambda _: b"macro")
    error = refusal(path)
    assert "macros" in error.what and ".xlsx" in error.next_step


def test_external_links_are_ignored(tmp_path):
    path = with_part(candidate_workbook(tmp_path), "xl/externalLinks/externalLink1.xml",
                     lambda _: b"<externalLink/>")
    assert read_cells(path)["Candidates"].rows


def test_guard_comes_before_a_strict_workbook_is_turned(tmp_path):
    path = as_strict(with_part(candidate_workbook(tmp_path), "xl/styles.xml", lambda _: ENTITIES))
    assert "declares entities" in refusal(path).what


@pytest.mark.parametrize("name", ["../evil.xml", "/etc/evil.xml", "xl/../../evil.xml",
                                  "C:/evil.xml"])
def test_paths_out_of_the_archive(tmp_path, name):
    path = with_part(candidate_workbook(tmp_path), name, lambda _: b"<a/>")
    assert "outside" in refusal(path).what


def test_symbolic_link_in_the_archive(tmp_path):
    path = candidate_workbook(tmp_path)
    link = zipfile.ZipInfo("xl/link.xml")
    link.external_attr = 0o120777 << 16
    with zipfile.ZipFile(path, "a") as changed:
        changed.writestr(link, "/etc/hostname")
    assert "outside" in refusal(path).what


def test_two_parts_of_one_name(tmp_path):
    path = candidate_workbook(tmp_path)
    with zipfile.ZipFile(path, "a") as changed, pytest.warns(UserWarning, match="Duplicate"):
        changed.writestr("xl/workbook.xml", "<workbook/>")
    assert "two parts" in refusal(path).what


def test_zip_bomb(tmp_path):
    path = with_part(candidate_workbook(tmp_path), "xl/media/a.bin", lambda _: b"\0" * 30_000_000)
    assert path.stat().st_size < 100_000
    assert "times its size" in refusal(path).what


def test_declared_sizes_are_bounded(tmp_path, monkeypatch):
    monkeypatch.setattr(guard, "LARGEST_TOTAL_BYTES", 1_000)
    assert "unpack" in refusal(candidate_workbook(tmp_path)).what


def test_part_and_file_sizes_are_bounded(tmp_path, monkeypatch):
    path = candidate_workbook(tmp_path)
    with monkeypatch.context() as patch:
        patch.setattr(guard, "LARGEST_PART_BYTES", 1_000)
        assert "unpack" in refusal(path).what
    monkeypatch.setattr(guard, "LARGEST_FILE_BYTES", 1_000)
    assert "MB" in refusal(path).what


def test_too_many_parts(tmp_path):
    path = candidate_workbook(tmp_path)
    with zipfile.ZipFile(path, "a") as changed:
        for number in range(guard.MOST_PARTS):
            changed.writestr(f"xl/media/{number}.bin", "")
    assert "parts" in refusal(path).what


def test_packing_that_workbooks_do_not_use(tmp_path):
    path = candidate_workbook(tmp_path)
    with zipfile.ZipFile(path, "a", zipfile.ZIP_LZMA) as changed:
        changed.writestr("xl/media/a.bin", "x")
    assert "packed" in refusal(path).what


ENTITIES = (b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]>'
            b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
            b'<sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>&b;</t></is></c></row>'
            b'</sheetData></worksheet>')


@pytest.mark.parametrize("part", ["xl/worksheets/sheet2.xml", "xl/workbook.xml", "xl/styles.xml"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_entity_bomb(tmp_path, part, encoding):
    path = with_part(candidate_workbook(tmp_path), part,
                     lambda _: ENTITIES.decode().encode(encoding))
    assert "declares entities" in refusal(path).what


def test_entities_behind_a_long_comment_are_refused_by_the_parser(tmp_path):
    late = ENTITIES.replace(b"<!DOCTYPE", b"<!--" + b"-x" * 5_000 + b"--><!DOCTYPE")
    path = with_part(candidate_workbook(tmp_path), "xl/worksheets/sheet2.xml", lambda _: late)
    refusal(path)


def test_row_number_beyond_the_last_row(tmp_path):
    """A row number of ten digits must not make the reader count up to it."""
    path = candidate_workbook(tmp_path)
    path = with_part(path, "xl/worksheets/sheet2.xml", lambda xml: xml.replace(
        b"</sheetData>", b'<row r="9999999999"><c r="A9999999999"><v>1</v></c></row></sheetData>'))
    assert "beyond the last row" in refusal(path).what


def test_column_beyond_the_last_column(tmp_path):
    path = candidate_workbook(tmp_path)
    path = with_part(path, "xl/worksheets/sheet2.xml", lambda xml: xml.replace(
        b"</sheetData>", b'<row r="3"><c r="ZZZZZZ3"><v>1</v></c></row></sheetData>'))
    refusal(path)
