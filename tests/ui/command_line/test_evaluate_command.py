"""`cornerwise evaluate`: files in, verdict and exit status out."""

import json
import os
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from core.geometry.features import DIAGONALS, EDGES, TEN_FEATURES
from tests.core.metrology.known_coupons import exact_readings, shape
from tests.core.records.schemas import schema
from ui.command_line.cli import main

SQUARE = shape()
RACKED = shape(skew_deg=-0.6)
UNDERSIZE = shape(scale_x=-0.6 / 120, scale_y=-0.6 / 80)

# Lengths twice, against slips.
CHECKED = (*TEN_FEATURES, *DIAGONALS, *EDGES)


@pytest.fixture
def file(tmp_path):
    def write(parameters, features=CHECKED, *, remark="", end=""):
        path = tmp_path / "coupon.csv"
        lines = [f"{r.feature},{r.value:.3f},{r.unit}" for r in exact_readings(parameters, features)]
        path.write_text("\n".join([*([remark] if remark else []), "feature,value,unit", *lines]) + "\n" + end)
        return str(path)

    return write


def ending(arguments):
    """Exit status, also where argparse itself ends the program."""
    try:
        return main(["evaluate", *arguments])
    except SystemExit as exc:
        return exc.code


def as_json(arguments, capsys):
    status = ending([*arguments, "--json"])
    told = json.loads(capsys.readouterr().out)
    Draft202012Validator(schema("evaluation")).validate(told)
    return status, told


@pytest.mark.parametrize(
    ("parameters", "options", "status"),
    [
        (SQUARE, [], 0),
        (RACKED, [], 1),
        (UNDERSIZE, [], 1),
        (UNDERSIZE, ["--judge", "squareness"], 0),
        (UNDERSIZE, ["--groups", "squareness,shape"], 0),
        (UNDERSIZE, ["--judge", "all"], 1),
        (RACKED, ["--perp-tol", "2"], 0),
        (RACKED, ["--class", "vL"], 1),
        (shape(skew_deg=0.45), ["--class", "vL"], 2),
        (shape(skew_deg=0.3), ["--class", "m"], 2),
        (shape(skew_deg=0.3), ["--class", "c"], 0),
        (RACKED, ["--class", "c", "--perp-tol", "2"], 1),
        (SQUARE, ["--size", "80x120"], 3),
    ],
)
def test_the_exit_status_is_the_verdict(file, parameters, options, status):
    assert ending([file(parameters), *options]) == status


def test_the_text_says_verdict_reason_meaning_and_the_move(file, capsys):
    ending([file(RACKED), "--span", "640"])
    text = capsys.readouterr().out
    assert text.startswith("NO-GO")
    assert "Skew −0.60" in text
    assert "Squareness: −0.84 ± " in text
    assert "400 mm" in text
    assert "ISO 2768-mK" in text
    assert "−0.40 to 0.40" in text
    assert "right end of the gantry by 6.70" in text
    assert "corner with the mark lay nearest to you on the left" in " ".join(text.split())
    assert "Power off and unplugged" in text


def test_contradictory_readings_are_explained_and_no_value_is_shown(file, capsys):
    assert ending([file(SQUARE), "--size", "80x120"]) == 3
    text = capsys.readouterr().out
    assert text.startswith("INCONSISTENT")
    assert "quarter turn" in text
    assert "perpendicularity" not in text
    assert "Skew" not in text


def test_a_corner_is_told_as_what_it_is_off_90_degrees(file, capsys):
    ending([file(shape(taper_x=0.006)), "--corner-tol", "0.3"])
    assert "from 90°: " in capsys.readouterr().out


def test_a_limit_for_sizes_alone_does_not_judge_squareness(file, capsys):
    assert ending([file(RACKED), "--edge-tol", "0.3"]) == 0
    assert "Squareness: not measured" in capsys.readouterr().out


def test_readings_that_no_single_slip_explains(tmp_path, capsys):
    path = tmp_path / "coupon.csv"
    lines = ["near,121,mm", "far,118,mm", "left,80,mm", "right,80,mm", "nl-fr,147,mm", "nr-fl,139,mm", "nl,95,deg"]
    path.write_text("\n".join(["feature,value,unit", *lines, "nr,97,deg", "fr,82,deg", "fl,99,deg"]))
    assert ending([str(path)]) == 3
    assert "No single slip explains it" in capsys.readouterr().out


def test_every_line_fits_a_terminal(file, capsys):
    for options in ([], ["--span", "640"], ["--size", "80x120"], ["--class", "m"]):
        ending([file(UNDERSIZE), *options])
        assert max(map(len, capsys.readouterr().out.splitlines())) <= 100


def test_sizes_say_what_they_point_to(file, capsys):
    ending([file(UNDERSIZE), "--judge", "all"])
    assert "too small by equal millimetres, 0.60" in " ".join(capsys.readouterr().out.split())


def test_a_simulated_file_is_stamped(file, capsys):
    path = file(SQUARE, remark="# SIMULATED")
    ending([path])
    assert capsys.readouterr().out.startswith("SIMULATED")
    assert as_json([path], capsys)[1]["simulated"] is True


def test_json_is_valid_and_carries_the_correction(file, capsys):
    status, told = as_json([file(RACKED), "--span", "600"], capsys)
    assert (status, told["verdict"]) == (1, "no-go")
    assert told["correction"]["move_mm"] == pytest.approx(600 * 0.010472, rel=0.01)
    assert (told["correction"]["end"], told["correction"]["span_mm"]) == ("right", 600.0)


def test_without_a_span_there_is_no_correction(file, capsys):
    told = as_json([file(RACKED)], capsys)[1]
    assert (told["correction"], told["no_correction"]) == (None, None)


def test_units_never_matter(tmp_path, capsys):
    told = []
    for unit, factor in (("mm", 1.0), ("inch", 25.4)):
        path = tmp_path / f"{unit}.csv"
        lines = [
            f"{r.feature},{r.value / factor!r},{unit}" if r.feature.is_length else f"{r.feature},{r.value!r},deg"
            for r in exact_readings(RACKED)
        ]
        path.write_text("\n".join(["feature,value,unit", *lines]))
        told.append(as_json([str(path)], capsys)[1])
    for mm, inch in zip(told[0]["characteristics"], told[1]["characteristics"], strict=True):
        assert inch["value"] == pytest.approx(mm["value"], abs=1e-9)
        assert inch["u"] == pytest.approx(mm["u"], rel=1e-9)


def test_ten_thousand_lines(file, capsys):
    path = file(SQUARE, end="near,120.000,mm\n" * 10_000)
    status, told = as_json([path], capsys)
    assert (status, told["fit"]["readings"][0]["n"]) == (0, 10_002)


def test_the_quick_check_on_two_diagonals(file, capsys):
    path = file(RACKED, DIAGONALS)
    assert ending([path]) == 1
    ending([path, "--features", "squareness"])
    text = capsys.readouterr().out
    assert "Size: not judged." in text
    assert "whether the sides run parallel was not looked at" in " ".join(text.split())
    status, told = as_json([path, "--features", "squareness"], capsys)
    assert (status, told["cross_checked"]) == (1, False)
    status, told = as_json([file(RACKED, DIAGONALS * 2), "--features", "squareness"], capsys)
    assert (status, told["cross_checked"], told["settled"]) == (1, True, True)


def test_accuracies_change_the_uncertainty(file, capsys):
    path = file(SQUARE, EDGES + DIAGONALS)
    skew = {
        name: as_json([path, *options], capsys)[1]["shape"]["skew_deg"]["U95"]
        for name, options in {
            "default": [],
            "coarse": ["--caliper", "rep=0.1"],
            "form": ["--form", "diagonal=0.2"],
        }.items()
    }
    assert skew["coarse"] > skew["default"]
    assert skew["form"] > skew["default"]


def test_the_edge_method_changes_what_an_edge_means(file, capsys):
    path = file(shape(skew_deg=3.0))
    seated = as_json([path], capsys)[1]
    tips = as_json([path, "--edge-method", "tips"], capsys)[1]
    near = {
        name: next(item["value"] for item in told["characteristics"] if item["name"] == "edge-near")
        for name, told in (("seated", seated), ("tips", tips))
    }
    assert near["seated"] - near["tips"] == pytest.approx(120.0 * (1 - 0.99863), abs=0.03)


def test_own_limits_and_class_together_are_named(file, capsys):
    told = as_json([file(SQUARE), "--class", "mK", "--diagonal-tol", "0.5", "--edge-tol", "0.2"], capsys)[1]
    by_name = {characteristic["name"]: characteristic for characteristic in told["characteristics"]}
    assert told["limits"] == "ISO 2768-mK with own limits"
    assert by_name["diagonal-difference"]["upper"] == 0.5
    assert by_name["edge-near"]["upper"] == pytest.approx(120.2)
    assert by_name["squareness"]["upper"] == 0.4


def test_temperature_moves_sizes_only(file, capsys):
    cold = as_json([file(RACKED)], capsys)[1]
    warm = as_json([file(RACKED), "--temperature", "30", "--material", "acrylic"], capsys)[1]
    assert warm["shape"] == cold["shape"]
    assert warm["expansion"] == {"material": "acrylic", "temperature_c": 30.0}
    ending([file(RACKED), "--temperature", "30", "--material", "acrylic"])
    assert "Sizes are those at 20 °C, from acrylic at 30 °C." in capsys.readouterr().out
    near = [next(c["value"] for c in told["characteristics"] if c["name"] == "edge-near") for told in (warm, cold)]
    assert near[0] < near[1] - 0.05


@pytest.mark.parametrize(
    ("options", "status"),
    [
        (["--size", "120"], 64),
        (["--size", "120x-80"], 64),
        (["--caliper", "res"], 64),
        (["--caliper", "speed=3"], 64),
        (["--caliper", "res=a"], 64),
        (["--caliper", "res=0.01,res=0.02"], 64),
        (["--gauge", "rep=-1"], 64),
        (["--gauge", "rep=nan"], 64),
        (["--caliper", "rep=1e200"], 64),
        (["--form", "edge=1e200"], 64),
        (["--caliper", "res=0,rep=0,lin=0"], 64),
        (["--form", "edge=-1"], 64),
        (["--edge-method", "both"], 64),
        (["--judge", "size"], 64),
        (["--edge-tol", "tight"], 64),
        (["--nonsense"], 64),
        (["--class", "XL"], 65),
        (["--edge-tol", "0"], 65),
        (["--perp-tol", "nan"], 65),
        (["--diagonal-tol", "1e-300"], 65),
        (["--span", "nan"], 65),
        (["--temperature", "30"], 65),
        (["--span", "3"], 65),
        (["--size", "3500x80", "--class", "fH"], 65),
        (["--size", "100x70"], 65),
    ],
)
def test_wrong_options_are_one_clear_line_and_never_a_verdict(file, capsys, options, status):
    assert ending([file(SQUARE), *options]) == status
    said = capsys.readouterr()
    assert said.out == ""
    assert "Traceback" not in said.err
    assert said.err.strip().splitlines()[-1].startswith("cornerwise")


def test_bad_input_names_file_and_line(file, capsys):
    path = file(SQUARE, end="naer,119.9,mm\n")
    assert ending([path]) == 65
    assert capsys.readouterr().err == f"cornerwise: {path}, line 18: unknown feature 'naer'; did you mean 'near'?\n"


def test_a_window_reading_needs_its_nominal_size(file, capsys):
    path = file(SQUARE, end="window-width,60.2,mm\n")
    assert ending([path]) == 65
    assert "line 18" in capsys.readouterr().err
    assert ending([path, "--window", "60x40"]) == 0


@pytest.mark.parametrize(
    "put",
    [
        os.mkfifo,
        os.mkdir,
        lambda path: path.symlink_to("/dev/zero"),
        lambda path: path.write_text("feature,value,unit\n" + "nl,90.0,deg\n" * 1_000_000),
    ],
    ids=["pipe", "folder", "without end", "a million rows"],
)
def test_what_never_ends_or_is_no_file_is_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str], put) -> None:
    put(tmp_path / "readings.csv")
    assert ending([str(tmp_path / "readings.csv")]) == 65
    told = capsys.readouterr()
    assert (told.out, len(told.err.splitlines())) == ("", 1)
    assert "readings.csv" in told.err
