"""The recipe: read strictly, and what its digest depends on."""

from dataclasses import replace

import pytest

from models.files import check_rows
from models.recipe import FILE, RecipeError, read_recipe, recipe


@pytest.fixture
def changed(tmp_path):
    """Write the recipe with one text in place of another, and read it."""

    def read(was, now):
        text = FILE.read_text("utf-8")
        assert was in text
        file = tmp_path / "recipe.toml"
        file.write_text(text.replace(was, now, 1), "utf-8")
        return read_recipe(file)

    return read


def test_comments_change_no_digest_and_numbers_do(changed):
    ours = recipe()
    assert changed("# -- clips", "# -- film").digest() == ours.digest()
    other = changed("folds = 4", "folds = 5")
    assert other.digest() != ours.digest()
    assert other.digest("fit") != ours.digest("fit")
    assert other.digest("stills") == ours.digest("stills")


@pytest.mark.parametrize(
    ("was", "now", "fault"),
    [
        ("folds = 4", "fold = 4", r"fit: unknown \['fold'\]"),
        ("folds = 4", "# folds = 4", r"fit: missing \['folds'\]"),
        ("folds = 4", "folds = 4.5", "fit: folds: wants <class 'int'>, got 4.5"),
        ("cover = 0.9", 'cover = "most"', "cover: wants <class 'float'>, got 'most'"),
        ('purpose = "fit"', 'purpose = "fun"', "purpose: wants .*got 'fun'"),
        ("zoom = [0.75, 1.1]", "zoom = [0.75]", r"zoom: wants .*got \[0.75\]"),
    ],
)
def test_a_recipe_that_cannot_be_used_says_which_key_and_why(changed, was, now, fault):
    with pytest.raises(RecipeError, match=fault):
        changed(was, now)


def test_no_two_sets_share_a_body():
    numbers = [number for each in recipe().stills.sets for number in each.numbers]
    assert len(set(numbers)) == len(numbers)


def test_a_body_has_the_purpose_of_its_set():
    stills = recipe().stills
    for each in stills.sets:
        assert stills.purpose_of(each.first) == each.purpose
    with pytest.raises(RecipeError, match="cast 9999 is in none of the sets"):
        stills.purpose_of(9999)


def test_the_rows_in_the_tree_are_those_the_recipe_names():
    check_rows(recipe().rows)


def test_rows_that_differ_or_are_missing_are_refused(tmp_path):
    (tmp_path / "stills-closeout-1.parquet").write_bytes(b"rows")
    digest = "aa2c4a5d4e1aeae1e0d0f5e5a4dbeb8ad9fd5ea1ad1ef9a0b4ee1a0f0a0bdc5f"
    with pytest.raises(ValueError, match=r"stills-closeout-1.parquet differs from"):
        check_rows({"stills-closeout-1.parquet": digest}, tmp_path)
    with pytest.raises(ValueError, match=r"stills-closeout-1.parquet is missing beside"):
        check_rows({}, tmp_path)


def test_seeds_of_sets_and_nets_are_in_the_recipe_alone():
    """A recipe is a value: the same content compares equal, another does not."""
    ours = recipe()
    assert read_recipe(FILE) == ours
    assert replace(ours, fit=replace(ours.fit, members=9)) != ours
