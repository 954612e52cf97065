"""Make the messy workbooks of three invented councils, and the truth of every row in them.

``python -m tests.programs.messy.making`` writes them again: sheets are laid out with openpyxl and
saved through LibreOffice in one start, so that their cells are those a spreadsheet program writes.
The councils, names and numbers are invented. Every row has a mark in a column of its own
("Ref. interne" and the like), by which `truth.csv` says what it should come to, or that it is
wrong and must not be taken in.
"""

from __future__ import annotations

import csv
import datetime as dt
import json
import random
from pathlib import Path

from openpyxl import Workbook

from tests.outside import offices

HERE = Path(__file__).parent
SEED = 20_260_701
TICK = "✓"


class Book:
    """A workbook on its way, and the truth of its rows."""

    def __init__(self, name, council, kind="xlsx"):
        self.name, self.council, self.kind = name, council, kind
        self.book = Workbook()
        self.book.remove(self.book.active)
        self.truth = []

    def sheet(self, title, table, above, headings, rows, below=(), merges=()):
        """Add a sheet: lines above, headings, rows given as (cells, key, values or None)."""
        sheet = self.book.create_sheet(title)
        for line in (*above, *headings):
            sheet.append(list(line))
        for cells, key, values in rows:
            sheet.append(list(cells))
            self.truth.append((self.name, self.council, table, key, values))
        for line in below:
            sheet.append(list(line))
        for merge in merges:
            sheet.merge_cells(merge)


QUARTERS = {"CV": "Centre-Ville", "LM": "Les Maraîchers", "PR": "Prés du Roy", "GA": "La Gare"}


def french(rng):
    """Montclar: names of areas, months in words, euros, ticks, brackets, per cent."""
    return [french_areas(), french_register(rng), french_ledger(rng), french_survey()]


def french_areas():
    """Lay out areas with a title, headings in two lines and a total."""
    areas = QUARTERS
    first = Book("fr_quartiers", "fr")
    first.sheet(
        "Quartiers",
        "areas",
        [["Ville de Montclar – quartiers desservis"], []],
        [
            [
                "Code",
                "Nom du quartier",
                "Logements",
                *([None] * 2),
                "Habitants",
                "Collecte",
                "Priorité",
            ],
            [None, None, "Maisons", "Mitoyennes", "Appartements", None, None, None],
        ],
        [
            (
                [
                    code,
                    name,
                    n * 100,
                    n * 10,
                    f"{n * 1000:,}".replace(",", " "),
                    n * 2500,
                    ("ordures ménagères", "biodéchets")[n % 2],
                    (TICK, "non")[n % 2],
                ],
                code,
                {"houses_count": n * 100, "apartments_count": n * 1000, "is_priority": n % 2 == 0},
            )
            for n, (code, name) in enumerate(areas.items(), start=1)
        ],
        [["Total général", None, 1000, 100, 10000, 25000]],
        ["A1:H1", "C3:E3"],
    )
    return first


def french_register(rng):
    """Lay out a register with dates of three kinds and areas by name."""
    areas = QUARTERS
    register = Book("fr_registre", "fr")
    rows, months = [], ["janv.", "févr.", "mars", "avril", "mai", "juin"]
    for n in range(120):
        key = f"SE-{n:04d}"
        code = list(areas)[n % 4]
        name = [areas[code], areas[code].upper(), code, areas[code].replace("î", "i")][n // 4 % 4]
        day = dt.date(2025, 1 + n % 6, 1 + n % 28)
        said = [day, f"{day.day} {months[day.month - 1]} 2025", f"{day:%d/%m/%Y}"][n % 3]
        people = 1 + n % 5
        values = {"area_id": code, "registered_date": day.isoformat(), "people_count": people}
        cells = [
            key,
            name,
            ("maison", "appartement", "pavillon", "maison mitoyenne")[n % 4],
            people,
            said,
            ("en ligne", "guichet", "tél.", "courrier")[n % 4],
            (TICK, "non", "oui", "Oui")[n % 4],
            f"obs {rng.randint(1, 99)}",
        ]
        if n % 30 == 7:
            cells[3], values = "2-3", None
        if n % 30 == 17:
            cells[4], values = "31/02/2025", None
        if n % 30 == 23:
            cells[1], values = "Quartier inconnu", None
        rows.append((cells, key, values))
    register.sheet(
        "Inscriptions",
        "households",
        [["Registre des foyers (extrait)"], ["* tableau tenu par l'accueil"]],
        [
            [
                "N° foyer",
                "Quartier",
                "Type de logement",
                "Nb de personnes",
                "Inscrit le",
                "Mode d'inscription",
                "Accepte d'être recontacté",
                "Observations",
            ]
        ],
        rows,
        [[], ["NB : les inscriptions au marché sont saisies à part"]],
    )
    return register


def french_ledger(rng):
    """Lay out a ledger with receipts in brackets and sums as text."""
    ledger = Book("fr_compta", "fr", "ods")
    rows = []
    posts = {
        "composteurs": "bins",
        "vers": "worms",
        "litière": "bedding",
        "personnel": "staff",
        "recettes": "copayments_received",
        "divers": "other",
    }
    for n in range(60):
        key, day = f"F{n:03d}", dt.date(2025, 1 + n % 12, 1 + n % 27)
        post = list(posts)[n % 6]
        amount = round(rng.uniform(20, 4000), 2)
        text = f"{amount:,.2f}".replace(",", " ").replace(".", ",")
        if post == "recettes":
            cell, value = f"({text} €)", -amount
        else:
            cell, value = [amount, f"{text} €", text][n % 3], amount
        values = {"amount": value, "category": posts[post], "cost_date": day.isoformat()}
        cells = [key, day, post, cell]
        if n % 20 == 9:
            cells[3], values = "$ 120", None
        if n % 20 == 14:
            cells[2], values = "à ventiler", None
        rows.append((cells, key, values))
    ledger.sheet(
        "Grand livre",
        "costs",
        [],
        [["N° de pièce", "Date", "Poste", "Montant TTC"]],
        rows,
        [[None, None, "TOTAL", 99999.0]],
    )
    return ledger


def french_survey():
    """Lay out survey rounds and answers in per cent."""
    answers = Book("fr_enquete", "fr")
    answers.sheet(
        "Vagues",
        "waves",
        [],
        [["Code vague", "Type d'enquête", "Début", "Fin"]],
        [
            (
                ["V1", "initiale", "1er janvier 2025", "30 juin 2025"],
                "V1",
                {"wave_kind": "baseline"},
            ),
            (
                ["V2", "suivi", dt.date(2025, 7, 1), dt.date(2025, 9, 30)],
                "V2",
                {"wave_kind": "followup"},
            ),
        ],
    )
    rows = []
    for n in range(60):
        key = f"V1 | SE-{n * 2:04d}"
        shares = [40, 20, 30, 10, 0]
        day = dt.date(2025, 2, 1 + n % 27)
        values = {
            "prior_residual_bin_share": 0.4,
            "prior_other_share": 0.0,
            "answer_date": day.isoformat(),
        }
        cells = ["V1", f"SE-{n * 2:04d}", day, *(f"{one} %" for one in shares)]
        if n % 30 == 4:
            cells[3], values = "80 %", None  # the five come to 140 %
        if n * 2 % 30 in (7, 17, 23):
            values = None
        rows.append((cells, key, values))
    answers.sheet(
        "Réponses",
        "answers",
        [["Enquête initiale"]],
        [
            [
                "Vague",
                "N° foyer",
                "Date de réponse",
                "Part ordures ménagères",
                "Part compost",
                "Part biodéchets collectés",
                "Part animaux",
                "Part autre",
            ]
        ],
        rows,
    )
    return answers


def spanish(rng):
    """Valdehuerta: serials for dates, grams, names of models, litres, and Spanish months."""
    areas = {"Z1": "Casco Antiguo", "Z2": "Huerta Norte", "Z3": "Estación"}
    first = Book("es_zonas", "es", "ods")
    first.sheet(
        "Barrios",
        "areas",
        [["Ayuntamiento de Valdehuerta"]],
        [
            [
                "Código zona",
                "Nombre de la zona",
                "Casas",
                "Adosados",
                "Pisos",
                "Población",
                "Tipo de recogida",
                "Zona prioritaria",
            ]
        ],
        [
            (
                [
                    code,
                    name,
                    50 * n,
                    20 * n,
                    300 * n,
                    900 * n,
                    ("resto", "orgánica")[n % 2],
                    ("sí", "no")[n % 2],
                ],
                code,
                {"area_name": name, "residents_count": 900 * n, "is_priority": n % 2 == 0},
            )
            for n, (code, name) in enumerate(areas.items(), start=1)
        ],
        [["Suma total", None, 300, 120, 1800, 5400]],
    )
    register = Book("es_registro", "es")
    rows = []
    months = ["enero", "feb.", "marzo", "abr", "mayo", "junio"]
    for n in range(120):
        key, code = f"H{n:04d}", list(areas)[n % 3]
        day = dt.date(2025, 1 + n % 6, 1 + n % 28)
        said = [
            day,
            f"{day.day} de {months[day.month - 1]} de 2025",
            (day - dt.date(1899, 12, 30)).days,
        ][n % 3]
        values = {"area_id": code, "registered_date": day.isoformat(), "may_contact": n % 2 == 0}
        cells = [
            key,
            [areas[code], areas[code].lower()][n % 2],
            ("casa", "piso", "adosado")[n % 3],
            f"{1 + n % 4} personas" if n % 5 == 0 else 1 + n % 4,
            said,
            ("web", "teléfono", "presencial")[n % 3],
            ("sí", "no")[n % 2],
        ]
        if n % 40 == 11:
            cells[2], values = "barco", None
        if n % 40 == 26:
            cells[3], values = 99, None
        rows.append((cells, key, values))
    register.sheet(
        "Hogares",
        "households",
        [["Registro de hogares participantes"], []],
        [
            [
                "Nº hogar",
                "Zona",
                "Tipo de vivienda",
                "Personas",
                "Fecha de alta",
                "Vía",
                "Acepta contacto",
            ]
        ],
        rows,
        [["Total", None, None, 300]],
    )
    bins = Book("es_entregas", "es")
    rows = []
    for n in range(90):
        key, day = f"E{n:03d}", dt.date(2025, 6, 1 + n % 28)
        grams = 250 + 10 * (n % 20)
        values = {
            "worms_kg": grams / 1000,
            "model_id": "two_tray",
            "bedding_kg": 1.5,
            "handover_date": day.isoformat(),
        }
        cells = [
            key,
            f"H{n:04d}",
            ("Two-tray stacked bin", "two_tray")[n % 2],
            day,
            f"{grams} g",
            ("1,5 kg", 1.5)[n % 2],
        ]
        if n % 40 in (11, 26):
            values = None  # its household is refused
        if n % 30 == 5:
            cells[4], values = "un puñado", None
        rows.append((cells, key, values))
    bins.sheet(
        "Entregas",
        "handovers",
        [],
        [
            [
                "Nº entrega",
                "Nº hogar",
                "Modelo",
                "Fecha de entrega",
                "Peso de lombrices",
                "Peso del sustrato",
            ]
        ],
        rows,
    )
    return [first, register, bins]


def english(rng):
    """Eucalypt Flat: dollars, month names, headings in two lines, pounds in a heading."""
    areas = {"NW": "North Ward", "SW": "South Ward"}
    first = Book("en_wards", "en")
    first.sheet(
        "Wards",
        "areas",
        [["Eucalypt Flat Shire"], ["prepared by the depot, not for publication"]],
        [
            [
                "Ward code",
                "Ward name",
                "Dwellings",
                None,
                None,
                "Population",
                "Kerbside collection",
                "Served first",
            ],
            [None, None, "Houses", "Terraces", "Flats", None, None, None],
        ],
        [
            (
                [
                    code,
                    name,
                    400 * n,
                    30 * n,
                    100 * n,
                    1200 * n,
                    ("rubbish only", "FOGO")[n % 2],
                    ("y", "n")[n % 2],
                ],
                code,
                {
                    "townhouses_count": 30 * n,
                    "apartments_count": 100 * n,
                    "is_priority": n % 2 == 0,
                },
            )
            for n, (code, name) in enumerate(areas.items(), start=1)
        ],
        [["Grand total", None, 1200, 90, 300, 3600]],
        ["C3:E3"],
    )
    register = Book("en_register", "en")
    rows = []
    for n in range(120):
        key, code = f"R{n:04d}", list(areas)[n % 2]
        day = dt.date(2025, 1 + n % 6, 1 + n % 28)
        said = [day, f"{day:%d %b %Y}", f"{day.day}/{day.month}/{day.year}"][n % 3]
        values = {"area_id": code, "registered_date": day.isoformat(), "people_count": 1 + n % 6}
        home = ("House", "Flat", "Townhouse", "Unit")[n % 4]
        how = ("website", "by phone", "walk in")[n % 3]
        where = [areas[code], code][n % 2 ^ n // 2 % 2]
        cells = [key, where, home, 1 + n % 6, said, how, ("Y", "N", TICK)[n % 3]]
        if n % 40 == 13:
            cells[4], values = "13/13/2025", None
        if n % 40 == 31:
            cells[0], cells[1], values = key, "Nowhere Ward", None
        rows.append((cells, key, values))
    register.sheet(
        "Participants",
        "households",
        [["Worm bin register"]],
        [
            [
                "Registration number",
                "Ward",
                "Dwelling type",
                "Household size",
                "Date registered",
                "Registered via",
                "OK to contact",
            ]
        ],
        rows,
    )
    diaries = Book("en_diaries", "en")
    rows = []
    for n in range(90):
        day = dt.date(2025, 7, 7) + dt.timedelta(weeks=n // 30)
        number = n % 30 * 4
        pounds = round(1 + rng.random() * 8, 1)
        key = f"R{number:04d} | {day.isoformat()}"
        values = {"fed_kg": pounds * 0.45359237}
        cell = pounds
        if n % 5 == 2:
            grams = 10 * round(rng.uniform(40, 300))
            cell, values = f"{grams} g", {"fed_kg": grams / 1000}
        if n % 30 == 19:
            cell, values = "lots", None
        rows.append(([f"R{number:04d}", day, cell], key, values))
    diaries.sheet(
        "Weighed weeks",
        "weighings",
        [],
        [["Registration number", "Week beginning", "Food scraps (lb)"]],
        rows,
    )
    return [first, register, diaries]


def main():
    """Write the workbooks and their truth."""
    rng = random.Random(SEED)  # noqa: S311 - invented numbers, no secret
    books = [*french(rng), *spanish(rng), *english(rng)]
    raw = HERE / "raw"
    raw.mkdir(exist_ok=True)
    for kind in ("xlsx", "ods"):
        paths = []
        for book in books:
            if book.kind == kind:
                paths.append(raw / f"{book.name}.xlsx")
                book.book.save(paths[-1])
        offices(paths, HERE, kind)
    for path in raw.iterdir():
        path.unlink()
    raw.rmdir()
    with (HERE / "truth.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["book", "council", "table_name", "record_key", "values"])
        for book in books:
            for name, council, table, key, values in book.truth:
                said = "" if values is None else json.dumps(values, ensure_ascii=False)
                writer.writerow([f"{name}.{book.kind}", council, table, key, said])


if __name__ == "__main__":
    main()
