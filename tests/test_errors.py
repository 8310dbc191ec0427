"""Every error carries fields, makes its text from them, and comes back whole from a pickle."""

from __future__ import annotations

import copy
import inspect
import pickle
from dataclasses import fields, replace

import pytest

from rootgap import errors
from rootgap.errors import (
    GeometryError,
    InputError,
    InputErrors,
    KernelError,
    PictureError,
    RootgapError,
    StockError,
    UnitError,
    WriteError,
)

FAULT = InputError("a.toml", 3, "run.log.stock", '"lug"', "allowed: log", "log")

#: An error, its text, its exit code and the builtin that it also is.
ERRORS = [
    (UnitError("5 mn", "a length"), "found '5 mn'; allowed: a length", 2, ValueError),
    (UnitError(5, "a length", "no unit"), "found 5; allowed: a length (no unit)", 2, ValueError),
    (UnitError(10**5000, "a length"), "found an endless integer; allowed: a length", 2, ValueError),
    (StockError("pipe size", "7", ("6", "8")), "'7': no such pipe size; nearest that exist: 6, 8", 2, LookupError),
    (FAULT, 'a.toml:3: run.log.stock: found "lug"; allowed: log; did you mean log?', 2, ValueError),
    (replace(FAULT, nearest=""), 'a.toml:3: run.log.stock: found "lug"; allowed: log', 2, ValueError),
    (replace(FAULT, found="", nearest=""), "a.toml:3: run.log.stock: allowed: log", 2, ValueError),
    (InputError("a.toml", None, "", "", "no such file"), "a.toml: no such file", 2, ValueError),
    (
        InputErrors((FAULT, InputError("a.toml", None, "", "", "and 1 more fault"))),
        'a.toml:3: run.log.stock: found "lug"; allowed: log; did you mean log?\na.toml: and 1 more fault',
        2,
        ValueError,
    ),
    (GeometryError("a-c", "misses b by 3 mm", "move b by 3"), "a-c: misses b by 3 mm; move b by 3", 2, ValueError),
    (PictureError("a.png", "it is blank", "scan it again"), "a.png: it is blank; scan it again", 2, ValueError),
    (
        WriteError("out/a", "no space"),
        "out/a: cannot be written: no space; choose another folder with --out",
        2,
        OSError,
    ),
    (WriteError("out/a", "no space", "go"), "out/a: cannot be written: no space; go", 2, OSError),
    (
        KernelError("a-c", "its volume is out"),
        "a-c: its volume is out; please report this with the parameter file",
        3,
        RuntimeError,
    ),
]
IDS = [f"{type(error).__name__}-{number}" for number, (error, *_) in enumerate(ERRORS)]


def test_every_class_is_here() -> None:
    classes = {cls for _, cls in inspect.getmembers(errors, inspect.isclass) if issubclass(cls, RootgapError)}
    assert classes - {RootgapError} == {type(error) for error, *_ in ERRORS}


@pytest.mark.parametrize(("error", "text", "exit_code", "builtin"), ERRORS, ids=IDS)
def test_text_and_kind(error: RootgapError, text: str, exit_code: int, builtin: type[Exception]) -> None:
    assert str(error) == text
    assert error.exit_code == exit_code
    assert isinstance(error, RootgapError)
    assert isinstance(error, builtin)


@pytest.mark.parametrize("error", [error for error, *_ in ERRORS], ids=IDS)
@pytest.mark.parametrize("protocol", range(2, pickle.HIGHEST_PROTOCOL + 1))
def test_comes_back_from_a_pickle(error: RootgapError, protocol: int) -> None:
    back = pickle.loads(pickle.dumps(error, protocol))
    assert type(back) is type(error)
    assert str(back) == str(error)
    for field in fields(error):  # type: ignore[arg-type]
        before, after = getattr(error, field.name), getattr(back, field.name)
        assert str(before) == str(after) if isinstance(error, InputErrors) else before == after


@pytest.mark.parametrize("error", [error for error, *_ in ERRORS], ids=IDS)
def test_can_be_copied_and_raised_again(error: RootgapError) -> None:
    with pytest.raises(type(error)) as caught:
        raise copy.copy(error)
    assert str(caught.value) == str(error)


@pytest.mark.parametrize(("error", "text", "_code", "_builtin"), ERRORS, ids=IDS)
def test_the_text_follows_the_fields(error: RootgapError, text: str, _code: int, _builtin: type) -> None:
    """Every field that the text shows changes it."""
    for field in fields(error):  # type: ignore[arg-type]
        value = getattr(error, field.name)
        if isinstance(value, str):
            assert str(replace(error, **{field.name: "changed"})) != text  # type: ignore[type-var]
