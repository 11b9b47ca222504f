"""Bars of progress where somebody looks, and an interrupt that leaves a clean state."""

from __future__ import annotations

import types

import pytest

from antgrowth._core import progress
from antgrowth._core.progress import Interrupted, each


def test_all_is_worked_on_in_order_with_and_without_a_bar(monkeypatch, capsys):
    monkeypatch.delenv("TQDM_DISABLE", raising=False)
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    assert each(lambda x: 2 * x, [1, 2, 3], "work") == [2, 4, 6]
    assert capsys.readouterr().err.strip() == ""  # done within two seconds
    assert each(lambda x: 2 * x, [1, 2, 3], "work", show=True) == [2, 4, 6]
    assert "work: 100%" in capsys.readouterr().err


def test_a_bar_in_a_terminal_and_none_in_a_pipe(monkeypatch, capsys):
    monkeypatch.delenv("TQDM_DISABLE", raising=False)
    monkeypatch.setattr(progress, "DELAY_SECONDS", 0)
    each(abs, [1, 2], "work")
    assert capsys.readouterr().err == ""
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    each(abs, [1, 2], "work")
    assert "work" in capsys.readouterr().err


def test_none_on_a_page_that_is_made_of_a_notebook(monkeypatch, capsys):
    monkeypatch.setattr(progress, "_shell", lambda: types.SimpleNamespace(kernel=object()))
    monkeypatch.setattr(progress, "DELAY_SECONDS", 0)
    monkeypatch.setenv("TQDM_DISABLE", "1")
    assert each(abs, [1, 2], "work") == [1, 2] and capsys.readouterr().err == ""


def test_a_notebook_without_widgets_gets_text_and_no_warning(monkeypatch, capsys):
    monkeypatch.delenv("TQDM_DISABLE", raising=False)
    monkeypatch.setattr(progress, "_shell", lambda: types.SimpleNamespace(kernel=object()))
    monkeypatch.setattr(progress, "DELAY_SECONDS", 0)
    monkeypatch.setitem(__import__("sys").modules, "ipywidgets", None)
    each(abs, [1, 2], "work")  # warnings are errors here
    assert "work" in capsys.readouterr().err


def test_an_interrupt_is_told_in_one_line():
    def stop(number: int) -> int:
        if number == 3:
            raise KeyboardInterrupt
        return number

    with pytest.raises(KeyboardInterrupt) as caught:
        each(stop, [1, 2, 3, 4], "backtest")
    assert isinstance(caught.value, Interrupted)
    (line,) = caught.value._render_traceback_()
    assert line.startswith("Interrupted: backtest stopped after 2 of 4; nothing is kept of it")
