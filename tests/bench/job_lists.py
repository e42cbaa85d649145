"""The same invented job list twice: with the worksheet functions, and with native lookups.

Each row has ten formulas. Five of them are ordinary and the same in both. The other five call
worksheet functions in one workbook; in the other they look the same answers up in tables, the way
such sheets are built by hand.
"""

import xlsxwriter

from xlfuncs.ampacity import ampacity
from xlfuncs.current import full_load_current
from xlfuncs.designations import SIZES
from xlfuncs.errors import InputError
from xlfuncs.grounding import DEVICES, equipment_ground
from xlfuncs.overcurrent import RATINGS

KVA = (9, 15, 30, 45, 75, 112.5, 150, 225, 300)
VOLTS = (208, 240, 480, 600)

OURS = (
    "=XF_FULL_LOAD_CURRENT(B{row},C{row})",
    "=XF_LOAD_PROTECTION(E{row})",
    "=XF_CONDUCTOR_SIZE(F{row})",
    "=XF_EQUIPMENT_GROUND(F{row})",
    "=XF_PRIMARY_PROTECTION(B{row},C{row})",
)
# Tables!A:E currents, G ratings, I:J ampacities and sizes, L:M devices and grounds; all but the
# first fall, so that MATCH(..., -1) finds the next one above.
NATIVE = (
    "=INDEX(Tables!$B$2:$E${kvas},MATCH(B{row},Tables!$A$2:$A${kvas},0),"
    "MATCH(C{row},Tables!$B$1:$E$1,0))",
    "=INDEX(Tables!$G$2:$G${ratings},MATCH(E{row}*1.25,Tables!$G$2:$G${ratings},-1))",
    "=INDEX(Tables!$J$2:$J${sizes},MATCH(F{row},Tables!$I$2:$I${sizes},-1))",
    "=INDEX(Tables!$M$2:$M${devices},MATCH(F{row},Tables!$L$2:$L${devices},-1))",
    "=INDEX(Tables!$G$2:$G${ratings},MATCH(E{row}*1.25,Tables!$G$2:$G${ratings},-1))",
)
ORDINARY = (
    "=E{row}*1.25",
    "=E{row}+D{row}",
    '=IF(E{row}>100,"large","small")',
    "=ROUND(J{row},1)",
    '=A{row}&" "&L{row}',
)


def _columns():
    """Columns of the sheet of tables, by the column where they stand."""
    sizes = []
    for size in SIZES.names.tolist():
        try:
            sizes.append((float(ampacity(size, "copper", 75, 75)), size))
        except InputError:
            continue
    sizes.sort(reverse=True)
    devices = sorted(DEVICES.tolist(), reverse=True)
    return {
        0: [None, *KVA],
        **{
            1 + number: [volts, *full_load_current(KVA, volts).tolist()]
            for number, volts in enumerate(VOLTS)
        },
        6: ["ratings", *sorted(RATINGS.tolist(), reverse=True)],
        8: ["ampacities", *(amps for amps, _ in sizes)],
        9: ["sizes", *(size for _, size in sizes)],
        11: ["devices", *devices],
        12: ["grounds", *equipment_ground(devices).tolist()],
    }


def write(path, rows, formulas, kva=lambda row: KVA[row % len(KVA)]):
    """Write a job list; `kva` gives the rating of a row."""
    columns = _columns()
    ends = {
        "kvas": len(columns[0]),
        "ratings": len(columns[6]),
        "sizes": len(columns[8]),
        "devices": len(columns[11]),
    }
    with xlsxwriter.Workbook(path, {"constant_memory": True}) as book:
        jobs = book.add_worksheet("Jobs")
        for index in range(rows):
            row = index + 1
            volts = VOLTS[index // len(KVA) % len(VOLTS)]
            jobs.write_row(index, 0, [f"Job {row}", kva(index), volts, float(index % 300 + 1)])
            for number, formula in enumerate((*formulas, *ORDINARY)):
                jobs.write_formula(index, 4 + number, formula.format(row=row, **ends))
        tables = book.add_worksheet("Tables")
        for index in range(max(map(len, columns.values()))):
            for column, values in columns.items():
                if index < len(values):
                    tables.write(index, column, values[index])
    return path
