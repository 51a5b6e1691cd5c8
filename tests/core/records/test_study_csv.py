"""A gauge study's file: complete, or one line that says what is missing."""

import pytest

from core.errors import ReadingsFileError
from core.metrology.readings import Quantity
from core.records.study_csv import parse_study

HEADER = "operator,part,value,unit\n"
WHOLE = HEADER + "Ana,1,119.95,mm\nAna,2,120.10,mm\nBen,1,119.96,mm\nBen,2,120.11,mm\n" * 2


def parse(text):
    return parse_study(text.encode(), "study.csv")


def test_operators_parts_and_trials_in_the_files_order():
    study = parse(WHOLE)
    assert (study.operators, study.parts, study.quantity) == (("Ana", "Ben"), ("1", "2"), Quantity.LENGTH)
    assert study.readings == (((119.95, 119.95), (120.10, 120.10)), ((119.96, 119.96), (120.11, 120.11)))


def test_inches_and_decimal_commas_work():
    study = parse("operator;part;value;unit\nAna;1;4,7244;inch\n")
    assert study.readings == (((pytest.approx(119.99976),),),)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        (HEADER, "no readings"),
        ("operator,value,unit\n", "column 'part' is missing; the header must read operator,part,value,unit$"),
        (HEADER + "Ana,1,x,mm\n", "line 2: 'x' is not a number"),
        (HEADER + "Ana,1,1,cm\n", "line 2: unit 'cm'"),
        (HEADER + "Ana,1,1,mm\nAna,2,90,deg\n", "line 3: lengths and angles"),
        (WHOLE + "Ana,1,119.9,mm\n", "Ana read 2 2 times, others 3 times"),
        (HEADER + "Ana,1,1,mm\nBen,2,1,mm\n", "Ana read 2 0 times"),
    ],
)
def test_each_fault_is_one_line(text, what):
    with pytest.raises(ReadingsFileError, match=what):
        parse(text)
