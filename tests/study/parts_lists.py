"""Ten parts lists of different shapes, invented, as drawing programs and people write them; and what each says.

expected: designators -> the entry that the file gets, without its note; `?`: it has to stand as a comment.
told: pieces of what is told. columns: what the command line says of them
"""

from __future__ import annotations

import io
from datetime import datetime
from typing import NamedTuple


class Sample(NamedTuple):
    name: str
    data: bytes
    expected: dict[str, str]
    told: tuple[str, ...] = ()
    columns: tuple[str, ...] = ()


def _xlsx(rows: list[list[object]]) -> bytes:
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "BOM"
    for row in rows:
        sheet.append(row)
    book.create_sheet("Notes").append(["nothing here"])
    made = io.BytesIO()
    book.save(made)
    return made.getvalue()


GROUPED = Sample(
    "grouped, quoted, several designators in one cell",
    b"""\
"Reference","Value","Datasheet","Footprint","Qty","DNP"
"C1,C2","22u 400V","","CP_Radial_D12.5mm","2",""
"C3","100n 310VAC X2","","C_Rect_L18mm","1",""
"C4-C6","1n X7R 10% 630V","","1206","3",""
"D1-D4","1N4007","","DO-41","4",""
"R1,R2","1M 5% 0.25W","","axial","2",""
"R3","4k7 1% 0805","","0805","1",""
"R4","0R82 1% 1W","","2512","1",""
"R5","100k","","0805","1","DNP"
"F1","T1.6AH250V","","","1",""
"J1","AC inlet","","","1",""
""",
    {
        "C1 C2": "kind: capacitor, capacitance: 22 uF, rated: {voltage: 400 V}",
        "C3": "kind: capacitor, class: X2, capacitance: 100 nF, rated: {voltage: 310 Vac}",
        "C4 C5 C6": "kind: ceramic capacitor, dielectric: class 2, capacitance: 1 nF 10%, rated: {voltage: 630 V}",
        "D1 D2 D3 D4": "part: 1N4007",
        "R1 R2": "kind: resistor, resistance: 1 Mohm 5%, rated: {power: 0.25 W}",
        "R3": "kind: resistor, resistance: 4.7 kohm 1%",
        "R4": "kind: resistor, resistance: 0.82 ohm 1%, rated: {power: 1 W}",
        "R5": "kind: resistor, fitted: no, resistance: 100 kohm",
        "F1": "kind: fuse, characteristic: time lag, rated: {breaking_capacity: 1500 A, current: 1.6 A, voltage: "
        "250 V}",
        "J1": "?",
    },
)
SEMICOLONS = Sample(
    "semicolons, decimal comma, Windows-1252, German",
    """\
Menge;Wert;Bauform;Bauteile;Beschreibung;Bestückt
2;4,7k;0805;R1, R2;Widerstand Dickschicht 1%;ja
1;0,47Ω;2512;R3;Drahtwiderstand 2W;ja
2;0,1µF;0603;C1, C2;Keramik X7R 50V;ja
1;47µF;radial;C3;Elko 50V 105°C;ja
1;2,2nF;radial;C4;Keramik Y1 400VAC;ja
1;470µH;radial;L1;Drossel 0,6A;ja
1;3,15A;5x20;F1;Sicherung träge;ja
1;10k;0805;R9;Reserve;nein
1;MB6S;SOIC-4;BR1;Brückengleichrichter;ja
""".replace("Ω", "R").encode("cp1252"),
    {
        "R1 R2": "kind: film resistor, resistance: 4.7 kohm 1%",
        "R3": "kind: wirewound resistor, resistance: 0.47 ohm, rated: {power: 2 W}",
        "C1 C2": "kind: ceramic capacitor, dielectric: class 2, capacitance: 0.1 uF, rated: {voltage: 50 V}",
        "C3": "kind: electrolytic capacitor, capacitance: 47 uF, rated: {voltage: 50 V, temperature: 105 degC}",
        "C4": "kind: ceramic capacitor, class: Y1, capacitance: 2.2 nF, rated: {voltage: 400 Vac}",
        "L1": "kind: choke, inductance: 470 uH, rated: {current: 0.6 A}",
        "F1": "kind: fuse, rated: {current: 3.15 A}",
        "R9": "kind: resistor, fitted: no, resistance: 10 kohm",
        "BR1": "part: MB6S",
    },
)
TABS_16 = Sample(
    "tabs, UTF-16, a title above the names",
    """\
Bill of Materials\t\t\t
Board: adapter 12 V\t\t\t
\t\t\t
Item\tQuantity\tReference\tPart
1\t2\tC1, C2\t10uF/400V
2\t1\tC3\t2n2 1kV
3\t2\tD1 D2\tUF4007
4\t1\tD3\tSB560
5\t1\tQ1\t600V 4A
6\t3\tR1 R2 R3\t470
7\t1\tR4\t1.5R 2W
8\t1\tRV1\t275VAC
""".encode("utf-16"),
    {
        "C1 C2": "kind: capacitor, capacitance: 10 uF, rated: {voltage: 400 V}",
        "C3": "kind: capacitor, capacitance: 2.2 nF, rated: {voltage: 1 kV}",
        "D1 D2": "part: UF4007",
        "D3": "part: SB560",
        "Q1": "kind: transistor",
        "R1 R2 R3": "kind: resistor, resistance: 470 ohm",
        "R4": "kind: resistor, resistance: 1.5 ohm, rated: {power: 2 W}",
        "RV1": "kind: varistor, rated: {voltage: 275 Vac}",
    },
    ("Q1: not read: 600V; 4A",),
    ("value=Part",),
)
COMMENTS = Sample(
    "comment, designator, footprint; a part number of its maker",
    b"""\
Comment,Designator,Footprint,Manufacturer Part Number,Manufacturer
100nF 50V,"C1,C4,C9",0603,CC-100N-50,Lindholm
10k 1%,"R10,R11",0603,RR-10K-1,Lindholm
TL431,U2,SOT-23,TL431AX,Berg
PWM controller,U1,SOIC-8,BG1203,Berg
Optocoupler,U3,DIP-4,OC-17B,Berg
MOSFET 650V 7A 0.9R,Q1,TO-220,BM7N65,Berg
Schottky 100V 10A,D6,TO-220,BS10100,Berg
green,LED1,0805,,
""",
    {
        "C1 C4 C9": "kind: capacitor, marking: CC-100N-50, capacitance: 100 nF, rated: {voltage: 50 V}",
        "R10 R11": "kind: resistor, marking: RR-10K-1, resistance: 10 kohm 1%",
        "U2": "kind: shunt reference, marking: TL431",
        "U1": "kind: controller, marking: BG1203",
        "U3": "kind: optocoupler, marking: OC-17B",
        "Q1": "kind: MOSFET, marking: BM7N65, rated: {voltage: 650 V, current: 7 A, on_resistance: 0.9 ohm}",
        "D6": "kind: Schottky diode, marking: BS10100, rated: {reverse_voltage: 100 V, current: 10 A}",
        "LED1": "kind: LED",
    },
    ("LED1: not read: green",),
)
WORKBOOK = Sample(
    "a workbook, ratings in columns of their own",
    _xlsx(
        [
            ["Adapter 24 V", None, None, None, None, None, None],
            ["RefDes", "Value", "Tol.", "Voltage (V)", "Power (W)", "Package", "Notes"],
            ["R1-R2", "330k", "1%", 500, 0.5, 1206, None],
            ["R3", "22R", 5, None, "1/4", "axial", None],
            ["C1", "68uF", "20%", 400, None, "radial", "electrolytic 105°C"],
            ["C2", "220n", "10%", "310 Vac", None, "radial", "X2 film cap"],
            ["C3 … C4", "1uF", None, 25, None, "0805", "X5R"],
            ["ZD1", "15V", 5, None, 0.5, "DO-35", None],
            ["NTC1", "5R", None, None, None, None, "5D-9"],
            ["T1", "EE16", None, None, None, None, "transformer"],
        ]
    ),
    {
        "R1 R2": "kind: resistor, resistance: 330 kohm 1%, rated: {voltage: 500 V, power: 0.5 W}",
        "R3": "kind: resistor, resistance: 22 ohm 5%, rated: {power: 0.25 W}",
        "C1": "kind: electrolytic capacitor, capacitance: 68 uF 20%, rated: {voltage: 400 V, temperature: 105 degC}",
        "C2": "kind: film capacitor, class: X2, capacitance: 220 nF 10%, rated: {voltage: 310 Vac}",
        "C3 C4": "kind: ceramic capacitor, dielectric: class 2, capacitance: 1 uF, rated: {voltage: 25 V}",
        "ZD1": "kind: zener diode, voltage: 15 V 5%, rated: {power: 0.5 W}",
        "NTC1": "kind: NTC thermistor, resistance: 5 ohm",
        "T1": "?",
    },
)
ONE_A_ROW = Sample(
    "a row a part, no quantity, lower case",
    b"""\
ref,val,case
r1,10R,0805
r2,10R,0805
c1,470u 25V,radial
c2,4u7,0805
l1,4.7uH 3A,radial
d1,1n4148,sod-123
d2,1N4148,DO-35
q1,NPN,SOT-23
f1,F500mA,5x20
br1,DB107,DIP-4
""",
    {
        "R1": "kind: resistor, resistance: 10 ohm",
        "R2": "kind: resistor, resistance: 10 ohm",
        "C1": "kind: capacitor, capacitance: 470 uF, rated: {voltage: 25 V}",
        "C2": "kind: capacitor, capacitance: 4.7 uF",
        "L1": "kind: choke, inductance: 4.7 uH, rated: {current: 3 A}",
        "D1": "kind: diode, marking: 1n4148",
        "D2": "part: 1N4148",
        "Q1": "kind: bipolar transistor",
        "F1": "kind: fuse, characteristic: quick acting, rated: {current: 500 mA}",
        "BR1": "part: DB107",
    },
)
BARS = Sample(
    "bars, French, a comma in each figure",
    """\
Qté|Repère|Valeur|Boîtier|Désignation
2|R1 à R2|4,7kΩ|0805|résistance 1%
1|C1|0,22µF|radial|condensateur polypropylene X2 275V~
1|C2|22µF|radial|chimique 400V
1|D1|UF4004|DO-41|diode
1|U1||SOIC-8|PWM controller
1|C7|nc|0805|
""".replace(" à ", "-").encode(),
    {
        "R1 R2": "kind: resistor, resistance: 4.7 kohm 1%",
        "C1": "kind: film capacitor, class: X2, capacitance: 0.22 uF, rated: {voltage: 275 Vac}",
        "C2": "kind: electrolytic capacitor, capacitance: 22 uF, rated: {voltage: 400 V}",
        "D1": "part: UF4004",
        "U1": "kind: controller",
        "C7": "kind: capacitor, fitted: no",
    },
)
STRANGE_NAMES = Sample(
    "names of columns that nobody knows",
    b"""\
Nr,Where,What,Remarks
1,R1;R2;R3,2k2 5% 1/2W,
2,C1,10n 2kV,
3,"D1, D2",1N5819,
4,R7 - R8,100E,
""",
    {
        "R1 R2 R3": "kind: resistor, resistance: 2.2 kohm 5%, rated: {power: 0.5 W}",
        "C1": "kind: capacitor, capacitance: 10 nF, rated: {voltage: 2 kV}",
        "D1 D2": "part: 1N5819",
        "R7 R8": "kind: resistor, resistance: 100 ohm",
    },
    columns=("value=What",),
)
DOUBTFUL = Sample(
    "cells with several meanings, rows that contradict each other",
    b"""\
Part Reference,Value,Quantity,Description
C1,104,1,
C2,100,1,
C3,"1,000 uF",1,
C4,4n7 X1/Y2,1,
R1,4m7,1,
R2,10k,2,resistor
R2,22k,1,resistor
R3,1k 5%,1,film resistor 1%
D1,1N5822 5A,1,
L1,2x10mH,1,common-mode choke
U1,BG77,1,
""",
    {
        "C1": "kind: capacitor",
        "C2": "kind: capacitor",
        "C3": "kind: capacitor",
        "C4": "kind: capacitor, capacitance: 4.7 nF",
        "R1": "kind: resistor",
        "R2": "kind: resistor, resistance: 10 kohm",
        "R3": "kind: resistor, resistance: 1 kohm 5%",
        "D1": "part: 1N5822",
        "L1": "kind: common-mode choke, marking: 2x10mH",
        "U1": "?",
    },
    (
        "C1: not read: 104",
        "C2: not read: 100",
        "C3: not read: 1,000",
        "C4: not read: X1/Y2",
        "R1: not read: 4m7",
        "quantity 2: 1 designators: R2",
        "R2 stands in row 7 too",
        "R3: not read: tolerance 1%",
        "D1: not read: current 5 A, the library has 3 A",
        "U1: its kind is said nowhere",
    ),
)
UNITS = Sample(
    "units as people write them",
    """\
Designator;Value
R1;10 kOhm ±5% 0,6 W
R2;2.2 Ohm
R3;1/4W 47k
R4;R47 5% 2W
C1;0.1 uF 63 Vdc
C2;100 pF C0G 1kV
C3;1000 µF / 16V / 105°C
C4;Y2 4n7 300V~
L1;10 mH
F1;T 2 A L 250 V
D1;BZX 5V1
""".encode("utf-8-sig"),
    {
        "R1": "kind: resistor, resistance: 10 kohm 5%, rated: {power: 0.6 W}",
        "R2": "kind: resistor, resistance: 2.2 ohm",
        "R3": "kind: resistor, resistance: 47 kohm, rated: {power: 0.25 W}",
        "R4": "kind: resistor, resistance: 0.47 ohm 5%, rated: {power: 2 W}",
        "C1": "kind: capacitor, capacitance: 0.1 uF, rated: {voltage: 63 Vdc}",
        "C2": "kind: ceramic capacitor, dielectric: class 1, capacitance: 100 pF, rated: {voltage: 1 kV}",
        "C3": "kind: capacitor, capacitance: 1000 uF, rated: {voltage: 16 V, temperature: 105 degC}",
        "C4": "kind: capacitor, class: Y2, capacitance: 4.7 nF, rated: {voltage: 300 Vac}",
        "L1": "kind: choke, inductance: 10 mH",
        "F1": "kind: fuse, characteristic: time lag, rated: {breaking_capacity: 35 A, current: 2 A, voltage: 250 V}",
        "D1": "kind: diode, marking: 5V1",
    },
    ("D1: not read: BZX",),
)
SAMPLES = (GROUPED, SEMICOLONS, TABS_16, COMMENTS, WORKBOOK, ONE_A_ROW, BARS, STRANGE_NAMES, DOUBTFUL, UNITS)

# Five more, as somebody found them lying about.
GERMAN = Sample(
    "semicolons, Windows-1252, decimal comma, German names",
    """\
Pos.;Menge;Bauteil;Wert;Bauform;Bezeichnung;Bestückt
1;1;F1;T1A/250V;5x20;Feinsicherung;
2;2;C1,C2;47µ/400V;radial;Elko 105°C;
3;1;CX1;100n/275VAC X2;RM15;Folienkondensator X2;
4;3;R1-R3;0R22;1206;Widerstand 1% 0,25W;
5;1;R4;4,7k;0805;Widerstand;
6;1;R5;1k5;0805;Widerstand;
7;1;R9;10k;0805;Widerstand;nein
8;1;CY1;2,2nF Y1 400V;RM10;Sicherheitskondensator;
9;0;R10;1k;0805;Widerstand;
""".encode("cp1252"),
    {
        "F1": "kind: fuse, characteristic: time lag, rated: {current: 1 A, voltage: 250 V}",
        "C1 C2": "kind: electrolytic capacitor, capacitance: 47 uF, rated: {voltage: 400 V, temperature: 105 degC}",
        "CX1": "kind: film capacitor, class: X2, capacitance: 100 nF, rated: {voltage: 275 Vac}",
        "R1 R2 R3": "kind: resistor, resistance: 0.22 ohm 1%, rated: {power: 0.25 W}",
        "R4": "kind: resistor, resistance: 4.7 kohm",
        "R5": "kind: resistor, resistance: 1.5 kohm",
        "R9": "kind: resistor, fitted: no, resistance: 10 kohm",
        "CY1": "kind: capacitor, class: Y1, capacitance: 2.2 nF, rated: {voltage: 400 V}",
        "R10": "kind: resistor, fitted: no, resistance: 1 kohm",
    },
)
EMPTY_PLACES = Sample(
    "UTF-16 with tabs, places left empty in three ways",
    """\
Designator\tComment\tFootprint\tQuantity
C1, C2-C4\t100n\t0603\t4
R1\t4M7\t1206\t1
R2 R3\t1R\t0805\t2
Q1\tDNP\tTO220\t1
C9\t1n 1kV\tdisc\t1
C10\t4n7\t0805\tDNP
R5\t2k2 (not fitted)\t0805\t1
C11\t1n NP0 50V\t0805\t1
""".encode("utf-16"),
    {
        "C1 C2 C3 C4": "kind: capacitor, capacitance: 100 nF",
        "R1": "kind: resistor, resistance: 4.7 Mohm",
        "R2 R3": "kind: resistor, resistance: 1 ohm",
        "Q1": "kind: transistor, fitted: no",
        "C9": "kind: capacitor, capacitance: 1 nF, rated: {voltage: 1 kV}",
        "C10": "kind: capacitor, fitted: no, capacitance: 4.7 nF",
        "R5": "kind: resistor, fitted: no, resistance: 2.2 kohm",
        "C11": "kind: ceramic capacitor, dielectric: class 1, capacitance: 1 nF, rated: {voltage: 50 V}",
    },
)
TITLED = Sample(
    "a workbook with rows of title, ratings in a column of their own, kinds in one named Type",
    _xlsx(
        [
            ["Stückliste Netzteil 12 V"],
            ["Stand", "2026-01-05"],
            [],
            ["Ref", "Value", "Rating", "Type", "Fitted"],
            ["C1", "47 uF 20%", "400 V", "electrolytic", "yes"],
            ["R1", "0.22", "1 W", "wirewound", "yes"],
            ["R2", 1500, "0.25 W", "film", "yes"],
            ["BR1", "", "1000 V 1 A", "bridge", "yes"],
            ["D5", "UF4007", "1000 V", "ultrafast diode", "no"],
            ["RV1", "", "275VAC 70J", "varistor", "yes"],
            ["NTC1", "5 ohm", "3 A", "NTC", "yes"],
            ["CM1", "10 mH", "0.5 A", "common mode choke", "yes"],
            ["Total", 9],
        ]
    ),
    {
        "C1": "kind: electrolytic capacitor, capacitance: 47 uF 20%, rated: {voltage: 400 V}",
        "R1": "kind: wirewound resistor, resistance: 0.22 ohm, rated: {power: 1 W}",
        "R2": "kind: resistor, resistance: 1500 ohm, rated: {power: 0.25 W}",
        "BR1": "kind: bridge rectifier, rated: {reverse_voltage: 1000 V, current: 1 A}",
        "D5": "part: UF4007, fitted: no",
        "RV1": "kind: varistor, rated: {voltage: 275 Vac, energy: 70 J}",
        "NTC1": "kind: NTC thermistor, resistance: 5 ohm, rated: {current: 3 A}",
        "CM1": "kind: common-mode choke, inductance: 10 mH, rated: {current: 0.5 A}",
    },
    ("row 13: Total, 9: no designator",),
)
OWN_COLUMNS = Sample(
    "ratings in columns, units left out, a comma in thousands",
    """\
"Item","Qty","Reference(s)","Value","Voltage","Tolerance","Power","DNP"
1,2,"R1,R2","10Ω",,1%,0.25W,
2,1,"R3","0.5","","5","2W",
3,1,"C5","10uF",50V,20%,,
4,1,"C6","220p",1kV,10%,,x
5,1,"C7","1,000pF",1kV,10%,,
6,1,"L2","4u7",,,,
7,1,"C8","0,1uF",100V,,,
""".encode("utf-8-sig"),
    {
        "R1 R2": "kind: resistor, resistance: 10 ohm 1%, rated: {power: 0.25 W}",
        "R3": "kind: resistor, resistance: 0.5 ohm 5%, rated: {power: 2 W}",
        "C5": "kind: capacitor, capacitance: 10 uF 20%, rated: {voltage: 50 V}",
        "C6": "kind: capacitor, fitted: no, capacitance: 220 pF 10%, rated: {voltage: 1 kV}",
        "C7": "kind: capacitor, rated: {voltage: 1 kV}",
        "L2": "kind: choke, inductance: 4.7 uH",
        "C8": "kind: capacitor, capacitance: 0.1 uF, rated: {voltage: 100 V}",
    },
    ("C7: not read: 1,000pF; tolerance 10%",),
)
OF_A_LIBRARY = Sample(
    "by quantity, devices named after a drawing program's library",
    b"""\
Parts list rev C;;;;
Qty;Value;Device;Parts;Description
4;1M;R-EU_1206;R1, R2, R3, R4;RESISTOR, 1206, 0.25W 1%
2;470n/310V X2;C-X2;CX1 CX2;film capacitor
1;MKP 47n 630V=;C;C3;Kondensator
1;1m5;L;L1;choke
1;15V;ZENER;ZD1;
1;PC817;OK;OK1;optocoupler
1;22u 35V;CPOL;C10..C12;elko
""",
    {
        "R1 R2 R3 R4": "kind: resistor, resistance: 1 Mohm 1%, rated: {power: 0.25 W}",
        "CX1 CX2": "kind: film capacitor, class: X2, capacitance: 470 nF, rated: {voltage: 310 V}",
        "C3": "kind: film capacitor, capacitance: 47 nF, rated: {voltage: 630 Vdc}",
        "L1": "kind: choke, inductance: 1.5 mH",
        "ZD1": "kind: zener diode, voltage: 15 V",
        "OK1": "kind: optocoupler, marking: PC817",
        "C10 C11 C12": "kind: electrolytic capacitor, capacitance: 22 uF, rated: {voltage: 35 V}",
    },
    ("row 9: quantity 1: 3 designators: C10, C11, C12",),
)
THOUSANDS = Sample(
    "semicolons, Windows-1252, points that part thousands, dashes and words between designators",
    """\
Pos;Anzahl;Bezeichner;Wert;Bemerkung
1;4;R1–R4;1,5M 1% 0,25W;
2;3;R5 bis R7;2k2;
3;1;R10;1/4W 330R;
4;1;R11;4.700;
5;1;R12;470 500 mW;
6;1;R13;100 mOhm;
7;1;C1;1.000µF/25V;Elko 105°C
8;1;C2;4,7µ/400V;
9;3;C3...C5;100n/50V;X7R
10;1;C6;470n X2 275V~;
11;1;C9;6,8nF 1kV;
12;1;L1;1mH 0,5A;
13;1;F1;T 2A;
""".encode("cp1252"),
    {
        "R1 R2 R3 R4": "kind: resistor, resistance: 1.5 Mohm 1%, rated: {power: 0.25 W}",
        "R5 R6 R7": "kind: resistor, resistance: 2.2 kohm",
        "R10": "kind: resistor, resistance: 330 ohm, rated: {power: 0.25 W}",
        "R11": "kind: resistor",
        "R12": "kind: resistor, resistance: 470 ohm, rated: {power: 500 mW}",
        "R13": "kind: resistor, resistance: 100 mohm",
        "C1": "kind: electrolytic capacitor, rated: {temperature: 105 degC}",
        "C2": "kind: capacitor, capacitance: 4.7 uF, rated: {voltage: 400 V}",
        "C3 C4 C5": "kind: ceramic capacitor, dielectric: class 2, capacitance: 100 nF, rated: {voltage: 50 V}",
        "C6": "kind: capacitor, class: X2, capacitance: 470 nF, rated: {voltage: 275 Vac}",
        "C9": "kind: capacitor, capacitance: 6.8 nF, rated: {voltage: 1 kV}",
        "L1": "kind: choke, inductance: 1 mH, rated: {current: 0.5 A}",
        "F1": "kind: fuse, characteristic: time lag, rated: {current: 2 A}",
    },
    ("R11: not read: 4.700", "C1: not read: 1.000uF/25V"),
)
DATES = Sample(
    "a workbook with figures as numbers, a value made a date, tolerances as shares, powers in milliwatts",
    _xlsx(
        [
            ["Project X"],
            ["Parts", None, None, "Data"],
            ["Designator", "Qty", "Value", "Rating", "Tolerance", "Fitted"],
            ["R1", 1, 4700, "0.25W", 0.01, True],
            ["R2,R3", 2, 1e6, "1/4 W", "1%", True],
            ["R4", 1, datetime(2026, 7, 4), None, None, True],
            ["R5", 1, None, "500 mW", 5, 1],
            ["C2", 1, "10uF", "50V", 0.2, False],
            ["R7-R9", 3, "470R", "2 W", "5%", "yes"],
        ]
    ),
    {
        "R1": "kind: resistor, resistance: 4700 ohm, rated: {power: 0.25 W}",
        "R2 R3": "kind: resistor, resistance: 1000000 ohm 1%, rated: {power: 0.25 W}",
        "R4": "kind: resistor",
        "R5": "kind: resistor, rated: {power: 500 mW}",
        "C2": "kind: capacitor, fitted: no, capacitance: 10 uF, rated: {voltage: 50 V}",
        "R7 R8 R9": "kind: resistor, resistance: 470 ohm 5%, rated: {power: 2 W}",
    },
    ("R1: not read: tolerance 0.01", "R4: not read: 2026-07-04 00:00:00", "C2: not read: tolerance 0.2"),
)
ODD = (GERMAN, EMPTY_PLACES, TITLED, OWN_COLUMNS, OF_A_LIBRARY, THOUSANDS, DATES)
