"""What is measured at commissioning, and whose policies are named: by standards and titles."""

import re
from pathlib import Path

import pytest

from batch.writing.pages.farm_sheet import _commissioning

POLICIES = sorted((Path(__file__).parents[1] / "input_workbooks" / "policies").glob("*.toml"))


def test_drive_is_measured_where_the_standards_set_their_limits():
    # Source: IEEE 519-2022, clause 1: limits hold at the point of common coupling. NEMA MG 1 Parts
    # 30 and 31: peak and rise time at the motor's terminals; 14.36: unbalance of the voltages.
    # IEEE C57.110: heating by harmonics. Clauses from memory.
    lines = _commissioning({"supply_option": "single-phase drive"})
    places = {standard: " ".join(line for line in lines if standard in line)
              for standard in ("IEEE 519", "NEMA MG 1", "IEEE C57.110")}
    assert "point of common coupling" in places["IEEE 519"]
    assert all(word in places["NEMA MG 1"] for word in ("terminals", "peak", "unbalance"))
    assert "temperature" in places["IEEE C57.110"]


@pytest.mark.parametrize("option", ["three-phase line", "rotary converter"])
def test_service_without_a_drive_is_not_measured_for_its_harmonics(option):
    text = " ".join(_commissioning({"supply_option": option}))
    assert "IEEE 519" not in text and "NEMA MG 1" in text


@pytest.mark.parametrize("policy", POLICIES, ids=lambda path: path.stem)
def test_policy_names_its_source_by_title_and_no_cooperative(policy):
    text = policy.read_text(encoding="utf-8")
    assert "Source: " in text
    # A name of a firm or its address on the network: capitals before the word, or a domain.
    assert not re.search(r"[A-Z]\w+ (Electric|Rural|Energy)\b.*(Cooperative|Association)|\w\.com",
                         text)
