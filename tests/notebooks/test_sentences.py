"""A cell that cannot be worked out answers in a sentence, and the cells below it run."""

import pytest
from IPython.core.interactiveshell import InteractiveShell
from traitlets.config import Config

from bench.desk import answer_in_sentences

REFUSED = "from bench.errors import BadValue\nraise BadValue('mass', '-1 g', 'above zero', 'Weigh again')"


@pytest.fixture
def shell():
    made = InteractiveShell(config=Config({"HistoryManager": {"enabled": False}}))
    answer_in_sentences(made)
    answer_in_sentences(made)  # as every open_treatment does
    return made


def test_an_error_of_the_bench_is_one_sentence_and_does_not_end_the_run(shell, capsys):
    result = shell.run_cell(REFUSED)
    assert capsys.readouterr().out == "■ mass is -1 g; allowed is above zero. Weigh again.\n"
    assert result.success


def test_a_cell_that_needs_what_a_refused_one_was_to_give_waits_for_it(shell, capsys):
    shell.run_cell(f"{REFUSED}\nplan = 1")
    capsys.readouterr()
    result = shell.run_cell("plan + 1")
    assert capsys.readouterr().out == "▲ This cell waits for one above it, which was to give “plan”.\n"
    assert result.success


def test_a_name_that_nobody_was_to_give_is_an_error_as_ever(shell, capsys):
    result = shell.run_cell("plann + 1")
    assert "NameError" in capsys.readouterr().out
    assert not result.success


def test_any_other_fault_still_ends_the_run(shell, capsys):
    assert not shell.run_cell("1 / 0").success
    assert "ZeroDivisionError" in capsys.readouterr().out
