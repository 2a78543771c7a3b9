"""Names of folders and files: no two farms share a page, no two studies a folder."""

import itertools
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from batch.run_names import farm_file_names, folder_name, look_alike

# Ids that are made of each other's endings, where a number behind a name is likely to meet one.
PARTS = st.lists(st.sampled_from(["a", "b", "A", "B", " ", "-", "_", "1", "2", "3", "row", "é"]),
                 max_size=6).map("".join)


def test_a_later_farm_does_not_take_the_name_that_an_earlier_one_has():
    """The third is `a-b` again, and `a-b-3` is taken."""
    names = farm_file_names(["a-b-3", "a-b", "A B"])
    assert len(set(names)) == 3


@settings(max_examples=300, deadline=None)
@given(st.lists(PARTS, max_size=8))
def test_no_ids_share_a_file(ids):
    names = farm_file_names(ids)
    assert len({name.casefold() for name in names}) == len(ids)
    assert all(re.fullmatch(r"[a-z0-9][a-z0-9-]*", name) for name in names)


@pytest.mark.parametrize("names", [
    ("Farm A/B", "farm a-b", "farm a b", "farm a_b", "farm a b."),
    ("Cañon", "Ca on", "Canon"), ("ИРР 2026", "2026", "АБВ 2026"), ("ИРР", "АБВ", "study"),
    ("a\u202eb", "a b", "ab"), ("\u212a\u0301", "k"), ("CON", "CON.")])
def test_names_that_only_look_alike_have_folders_of_their_own(names):
    folders = [folder_name(name) for name in names]
    assert len(set(folders)) == len(names), folders
    assert all(re.fullmatch(r"[a-z0-9][a-z0-9-]{0,69}", folder) for folder in folders)


@pytest.mark.parametrize("one, other", [
    ("Test study", "test  STUDY "), ("Ca\u00f1on", "Can\u0303on"), ("Farm\u00a0A/B", "farm a/b")])
def test_one_name_typed_in_two_ways_has_one_folder(one, other):
    """Capitals, blanks, and the two ways in which Unicode writes an accent (UAX 15)."""
    assert folder_name(one) == folder_name(other)


def test_plain_names_stay_readable():
    assert folder_name("Test study") == "test-study" and folder_name("Round 2026") == "round-2026"


@pytest.mark.parametrize("one, other, are_alike", [
    ("Half/half", "half - half", True), ("Dear line", "dear_line", True),
    ("\uff11 mile", "1 mile", True), ("Cañon", "Ca on", False), ("ИРР", "АБВ", False),
    ("!", "?", False)])
def test_names_that_readers_take_for_one_another(one, other, are_alike):
    """Full-width digits fold to plain ones (UAX 15, compatibility form)."""
    assert (look_alike(one) == look_alike(other)) == are_alike


def test_folder_names_of_many_names_differ():
    names = ["".join(signs) for signs in itertools.product("aA -/é", repeat=3)]
    told_apart = {" ".join(name.lower().split()) for name in names}
    assert len({folder_name(name) for name in names}) == len(told_apart)
