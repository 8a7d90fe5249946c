import subprocess
import sys

from tests.support.documents import FINDINGS, document
from worker.present.text import report_text


def test_verdict_comes_first() -> None:
    first = report_text(document()).splitlines()[0]
    assert first.split()[0] == "FAIL"
    assert report_text(document(findings=FINDINGS[1:3])).splitlines()[0].split()[0] == "PASS"


def test_the_second_line_counts() -> None:
    assert report_text(document()).splitlines()[1].strip() == "2 errors, 1 warning, 1 note; 4 of 5 features finished"


def test_every_finding_is_told_with_its_place_and_remedy() -> None:
    text = report_text(document())
    for finding in FINDINGS:
        assert finding.code in text
        assert finding.message.split(".")[0][:40] in text
    assert "part (50, 30, 18), setup (50, 30, -12) mm" in text
    assert "Mend: Stick T2 out at least 38.3 mm. [/tools/1/stickout = 38.3 mm]" in text


def test_findings_stand_in_their_setup() -> None:
    text = report_text(document())
    s1, s2, plan = (text.index(word) for word in ("SETUP S1", "SETUP S2", "THE PLAN AS A WHOLE"))
    assert s1 < text.index("reach.stickout") < s2 < text.index("hold.marked") < plan < text.index("left.feature")


def test_lines_fit_a_terminal_and_are_ascii() -> None:
    for units in ("mm", "inch"):
        text = report_text(document(units))
        assert max(map(len, text.splitlines())) <= 100
        assert text.isascii()
        assert not any(line != line.rstrip() for line in text.splitlines())


def test_lengths_are_in_the_plans_units() -> None:
    # 36 mm / 25.4 = 1.4173 in, 100 mm = 3.937 in (exact by the definition of the inch)
    text = report_text(document("inch"))
    assert "measured 1.4173 in, limit 1.5059 in" in text
    assert "part 3.937 x 2.3622 x 1.1811 in" in text


def test_an_empty_report_is_readable() -> None:
    text = report_text(document(findings=(), residual={"volume": 0.0}, time=None, cost=None))
    assert "no findings" in text
    assert "no metal left on the part" in text
    assert "ESTIMATE" not in text


def test_evidence_is_told_and_nothing_is_switched_off_in_silence() -> None:
    text = report_text(document())
    assert "S1: solids 203.94 cm3, second computation 203.93 cm3, apart by 3.9e-05 (bound 2.0e-04)" in text
    assert "Switched off by the plan's policy: order.entry" in text


def test_writers_load_no_kernel() -> None:
    code = "import worker.present.text, sys; assert not any(m.split('.')[0] in ('OCP', 'numpy') for m in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_room_below_stands_beside_the_stickout_of_a_step_that_comes_through() -> None:
    told = document()
    told["setups"][0]["workingsteps"][1] |= {"room_below": 3.25, "body_below": "parallel_moving"}
    first, second = report_text(told).split("SETUP S2")
    assert "38.25 (-2.25)  3.25 parallel_moving" in first and "room below mm" in first
    assert "room below" not in second  # nothing comes through there


def test_a_method_is_told_only_where_a_setup_was_not_cut_exactly() -> None:
    told = document()
    told["evidence"]["methods"] = [
        {"setup": "S1", "method": "exact solids"},
        {"setup": "S2", "method": "meshes, round faces within 0.001 mm"},
    ]
    text = report_text(told)
    assert "S2 was not cut exactly: meshes, round faces within 0.001 mm" in text
    assert "S1 was not" not in text


def test_the_last_table_column_never_breaks_the_width() -> None:
    told = document()
    told["setups"][0]["workingsteps"][1] |= {"room_below": 3.25, "body_below": "a plate with a long name " * 4}
    assert max(map(len, report_text(told).splitlines())) <= 100
