"""Every known trap of a spreadsheet, by the table in tests/workbooks/traps.py."""

import pytest

from batch.columns import CANDIDATES
from batch.findings import CATALOGUE, ERROR, StudyError
from batch.reading.validate import validate
from batch.study import run_study
from batch.writing.record import study_content
from batch.writing.workbook.result import write_result
from tests.workbooks.make import candidate_workbook
from tests.workbooks.traps import TRAPS, write

READ = [name for name, trap in TRAPS.items() if not trap.refusal]


def findings_of(inputs):
    """The findings as (key, slug), those that name no column of the dictionary with a blank key."""
    return {(f["key"] if f["key"] in CANDIDATES.by_key else "", f["slug"])
            for f in inputs.findings.rows}


@pytest.fixture(scope="module")
def usual(tmp_path_factory):
    """The findings of the plain workbook."""
    return findings_of(validate(candidate_workbook(tmp_path_factory.mktemp("plain"))))


@pytest.mark.parametrize("name", READ)
def test_trap_gives_its_findings_and_values(usual, tmp_path, name):
    trap, inputs = TRAPS[name], validate(write(tmp_path, name))
    assert findings_of(inputs) - usual == trap.finds
    assert len(inputs.candidates) == trap.farms
    farm = inputs.candidates.iloc[0]
    for key, value in trap.reads.items():
        assert farm[key] == (value if isinstance(value, str) else pytest.approx(value)), key
    for finding in inputs.findings.rows:
        if finding["severity"] == ERROR and finding["key"] in CANDIDATES.by_key:
            value = inputs.candidates.at[finding["row"], finding["key"]]
            is_repeated = finding["slug"] == "id-repeated"  # a name that is taken still is a name
            assert is_repeated or value is None or value != value, "an error cell got a value"


@pytest.mark.parametrize("name", [name for name in TRAPS if name not in READ])
def test_trap_is_refused_with_its_reason(tmp_path, name):
    with pytest.raises(StudyError) as stop:
        validate(write(tmp_path, name))
    assert TRAPS[name].refusal in stop.value.what and stop.value.next_step.endswith(".")


@pytest.mark.parametrize("name", [
    "formulas_as_text", "text_equal_to_an_error", "control_characters", "longest_text",
    "no_break_spaces", "number_without_end", "leading_zeros_and_na", "percent_format"])
def test_trap_is_read_the_same_from_the_result_workbook(tmp_path, name):
    """What is written of a trap is no further trap: an auditor's re-run begins with these cells."""
    study = run_study(validate(write(tmp_path, name)))
    write_result(study, tmp_path / "result.xlsx", study_content(study, "", {}), "fingerprint")
    again = validate(tmp_path / "result.xlsx")
    kept, read = study.inputs.candidates, again.candidates
    assert read.reset_index(drop=True).equals(kept.reset_index(drop=True))
    assert ({(f["key"], f["slug"]) for f in again.findings.rows if f["severity"] == ERROR}
            == {(f["key"], f["slug"]) for f in study.inputs.findings.rows
                if f["severity"] == ERROR})


def test_table_of_traps_names_findings_that_there_are():
    assert {slug for trap in TRAPS.values() for _, slug in trap.finds} <= set(CATALOGUE)


def test_files_are_small(tmp_path):
    assert max(write(tmp_path, name).stat().st_size for name in TRAPS) < 100_000
