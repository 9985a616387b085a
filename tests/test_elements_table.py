"""The list of elements: CSV and XLSX come out as the sheet's tables, every slip is told by row and key."""

import io
import zipfile

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wetfront.intake import table_lines
from wetfront.intake.elements_table import MOST_BYTES, MOST_ROWS, read_elements


def read(text):
    return read_elements(text.encode(), "list.csv")


def one(text):
    rows, problems = read(text)
    assert problems == []
    assert len(rows) == 1
    return rows[0].values


def told(text):
    _, problems = read(text)
    return [(problem.line, problem.key, problem.nearest) for problem in problems]


def test_a_row_becomes_the_table_of_an_element():
    text = "id,shape,length_m,height_m,thickness_mm,x_m,y_m\nW1,wall,10,4.2,350,0,-2.5\n"
    assert one(text) == {
        "id": "W1",
        "shape": "wall",
        "length_m": 10,
        "height_m": 4.2,
        "thickness_mm": 350,
        "at_m": [0, -2.5],
    }


def test_rows_carry_their_line():
    rows, problems = read("id,shape,length_m\n\nA,beam,1\n,,\nB,beam,2\n")
    assert problems == []
    assert [(row.line, row.values["id"]) for row in rows] == [(3, "A"), (5, "B")]


def test_cells_that_a_shape_does_not_have_stay_empty():
    rows, problems = read("id,shape,diameter_m,depth_mm\nC,column,0.6,\nB,beam,,450\n")
    assert problems == []
    assert [row.values for row in rows] == [
        {"id": "C", "shape": "column", "diameter_m": 0.6},
        {"id": "B", "shape": "beam", "depth_mm": 450},
    ]


def test_a_header_in_other_units_is_converted_once():
    """40 ft = 12.192 m, 10 in = 254 mm, 35 cm = 350 mm, 1 ft² = 0.09290304 m²: exact by definition."""
    values = one("id,shape,length_ft,thickness_in\nA,slab,40,10\n")
    assert (values["length_m"], values["thickness_mm"]) == pytest.approx((12.192, 254.0), rel=1e-12)
    assert one("id,shape,depth_cm\nA,beam,35\n")["depth_mm"] == pytest.approx(350.0, rel=1e-12)
    assert one("id,shape,landing_area_ft2\nA,stair,10\n")["landing_area_m2"] == pytest.approx(0.9290304, rel=1e-12)


def test_a_column_finds_the_key_of_each_rows_own_shape():
    rows, problems = read("id,shape,depth_cm\nA,mass-block,120\nB,beam,40\n")
    assert problems == []
    assert rows[0].values["depth_m"] == pytest.approx(1.2)
    assert rows[1].values["depth_mm"] == pytest.approx(400)


def test_a_text_with_its_own_unit_is_handed_on():
    assert one("id,shape,thickness_mm\nA,slab,4 in\n")["thickness_mm"] == "4 in"


def test_a_decimal_comma_is_read_between_semicolons_only():
    assert one("id;shape;length_m\nA;beam;3,5\n")["length_m"] == 3.5
    assert one("id;shape;length_m\nA;beam;3.5\n")["length_m"] == 3.5
    assert one("id;shape;length_m\nA;beam;3,5 ft\n")["length_m"] == "3.5 ft"
    assert told('id,shape,length_m\nA,beam,"3,5"\n') == [(2, "length_m", None)]


def test_a_thousands_mark_is_refused_and_never_guessed():
    assert told("id;shape;length_m\nA;beam;1.234,5\n") == [(2, "length_m", None)]
    assert told("id;shape;length_m\nA;beam;1 234\n") == [(2, "length_m", None)]


def test_a_byte_order_mark_is_no_part_of_the_first_header():
    rows, problems = read_elements(b"\xef\xbb\xbfid,shape\nA,beam\n", "list.csv")
    assert problems == []
    assert rows[0].values == {"id": "A", "shape": "beam"}


def test_empty_cells_past_the_last_column_say_nothing():
    assert one("id,shape,length_m\nA,beam,1,,,\n")["length_m"] == 1


@pytest.mark.parametrize("cell", ["1e400", "nan", "inf", "0x10", "1_000"])
def test_only_finite_plain_numbers_are_numbers(cell):
    assert told(f"id,shape,length_m\nA,beam,{cell}\n") == [(2, "length_m", None)]


def test_a_number_as_name_stays_text():
    assert one("id,shape\n007,beam\n")["id"] == "007"


def test_openings_are_gathered_in_order():
    head = "id,shape,opening_2_width_m,opening_1_width_m,opening_1_from_start_m,opening_2_id,opening_1_height_ft"
    values = one(f"{head}\nW,wall,0.6,1.2,3,hatch,10\n")
    assert [opening["id"] for opening in values["opening"]] == ["opening 1", "hatch"]
    assert values["opening"][0]["height_m"] == pytest.approx(3.048)
    assert values["opening"][1] == {"width_m": 0.6, "id": "hatch"}
    slab = one("id,shape,opening_1_x_m,opening_1_y_m,opening_1_length_m\nS,slab,1,2,0.5\n")
    assert slab["opening"] == [{"length_m": 0.5, "at_m": [1, 2], "id": "opening 1"}]


def test_lists_stand_in_one_cell():
    ground = one("id,shape,measured_thicknesses_mm\nG,ground-slab,150 | 163 | 171\n")
    assert ground["measured_thicknesses_mm"] == [150, 163, 171]
    slab = one("id,shape,outline_m\nS,slab,0 0 | 12 0 | 12 5.5\n")
    assert slab["outline_m"] == [[0, 0], [12, 0], [12, 5.5]]


def test_every_slip_is_told_at_once_with_row_key_and_the_nearest_known():
    text = (
        "id,shape,lenght_m,length_m,width_m,x_m,y_m\n"
        "A,slabb,,1,1,,\n"
        "B,wall,,10,3,,\n"
        ",beam,,1,1,,\n"
        "D,beam,,=1+1,nan,4,\n"
        "E,beam,,1,1,,,7\n"
    )
    assert told(text) == [
        (1, "lenght_m", "length_m"),
        (2, "shape", "slab"),
        (3, "width_m", None),
        (4, "id", None),
        (5, "length_m", None),
        (5, "width_m", None),
        (5, "y_m", None),
        (6, "", None),
    ]


def test_a_key_in_two_units_is_refused():
    assert told("id,shape,length_m,length_ft\nA,beam,1,3\n") == [(2, "length_ft", None)]


def test_columns_that_are_missing_or_doubled_are_told():
    assert told("name,length_m\nA,1\n") == [(1, "id", None), (1, "shape", None)]
    assert told("id,shape,length_m,length_m\nA,beam,1,1\n")[0] == (1, "length_m", None)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\n\n",
        b"\x00\x01\x02",
        b"\xff\xfe\x00",
        b"id,shape\nA,\xe9\n",
        b"PK\x03\x04 no archive",
        b"\xd0\xcf\x11\xe0" + bytes(600),
        b'id,shape\n"A,beam\n',
        b"x" * (MOST_BYTES + 1),
    ],
    ids=["empty", "blank", "binary", "utf-16", "latin-1", "broken-zip", "old-xls", "open-quote", "too-large"],
)
def test_what_is_no_list_is_one_clear_problem(data):
    rows, problems = read_elements(data, "list.csv")
    assert rows == []
    assert len(problems) == 1
    assert "list.csv" in str(problems[0]) and problems[0].allowed


def test_more_rows_than_allowed_are_told():
    text = "id,shape\n" + "A,beam\n" * (MOST_ROWS + 1)
    assert told(text) == [(MOST_ROWS + 2, "", None)]


# --- spreadsheets ---


def book(*rows):
    made = openpyxl.Workbook()
    for row in rows:
        made.active.append(row)
    stream = io.BytesIO()
    made.save(stream)
    return stream.getvalue()


def test_a_spreadsheet_reads_like_the_csv():
    data = book(
        ["id", "shape", "height_m", "section", "diameter_mm", "count", None],
        ["C1", "column", 3.2, "circular", 600, 4.0],
        [None, None],
        [2, "wall", "4 ft"],
    )
    rows, problems = read_elements(data, "list.xlsx")
    assert problems == []
    assert [(row.line, row.values) for row in rows] == [
        (2, {"id": "C1", "shape": "column", "height_m": 3.2, "section": "circular", "diameter_m": 0.6, "count": 4}),
        (4, {"id": "2", "shape": "wall", "height_m": "4 ft"}),
    ]


def test_a_formula_or_truth_value_is_refused_and_not_worked_out():
    data = book(["id", "shape", "length_m", "width_m"], ["A", "beam", "=1+2", True])
    _, problems = read_elements(data, "list.xlsx")
    assert [(problem.line, problem.key) for problem in problems] == [(2, "length_m"), (2, "width_m")]
    assert "formulas" in problems[0].allowed


def test_an_archive_that_unpacks_to_far_more_is_refused_unread(monkeypatch):
    monkeypatch.setattr(table_lines, "MOST_UNPACKED_BYTES", 1_000_000)
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/worksheets/sheet1.xml", b" " * 3_000_000)
    assert len(stream.getvalue()) < 10_000
    rows, problems = read_elements(stream.getvalue(), "list.xlsx")
    assert rows == [] and "unpacked" in problems[0].found


def test_an_archive_that_is_no_spreadsheet_is_told():
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as packed:
        packed.writestr("notes.txt", "nothing")
    rows, problems = read_elements(stream.getvalue(), "list.xlsx")
    assert rows == [] and "spreadsheet" in problems[0].found


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes_give_rows_or_problems_and_never_an_exception(data):
    rows, problems = read_elements(data, "list.csv")
    assert rows or problems or data.strip()


HEADERS = st.sampled_from(["id", "shape", "length_m", "length_ft", "x_m", "outline_m", "opening_1_width_m", "what", ""])
CELLS = st.one_of(
    st.sampled_from(["A", "slab", "wall", "1", "2,5", "4 in", "=1", "", "1e400", "-0", "0 0|1 1"]), st.text(max_size=6)
)


@settings(max_examples=150, deadline=None)
@given(
    header=st.lists(HEADERS, min_size=1, max_size=6),
    rows=st.lists(st.lists(CELLS, max_size=7), max_size=4),
    divider=st.sampled_from([",", ";"]),
)
def test_any_table_gives_rows_of_known_keys_or_problems(header, rows, divider):
    text = "\n".join(divider.join(cells) for cells in [["id", "shape", *header], *rows])
    found, problems = read_elements(text.encode("utf-8", "surrogatepass"), "list.csv")
    for row in found:
        assert row.values["id"] and row.values["shape"]
        assert "what" not in row.values
    assert all(problem.file == "list.csv" for problem in problems)
