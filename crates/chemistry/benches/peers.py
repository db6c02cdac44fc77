#!/usr/bin/env python3
"""Speed of one freezing point and one density beside general-purpose libraries, in one run.

Needs: pip install CoolProp thermo chemicals pyEQL (pyEQL brings IPHREEQC). Run from the root of the project; it runs
`cargo bench -p chemistry --bench calls` itself and the release program for whole tables. A missing peer is an error.
"""
import csv
import os
import random
import subprocess
import sys
import tempfile
import time
import warnings
from importlib import resources
from importlib.metadata import version

warnings.filterwarnings("ignore")

import CoolProp.CoolProp as coolprop
from pyEQL._phreeqc import PyIPhreeqc
from thermo.electrochem import Laliberte_density

ROWS = 100_000


def per_call(call, count):
    """Seconds for one call: the median of five rounds."""
    rounds = []
    for _ in range(5):
        start = time.perf_counter()
        for n in range(count):
            call(n)
        rounds.append((time.perf_counter() - start) / count)
    return sorted(rounds)[2]


def ours():
    """Nanoseconds a call, by name."""
    out = subprocess.run(["cargo", "bench", "-q", "-p", "chemistry", "--bench", "calls"], capture_output=True,
                         text=True, check=True).stdout
    found = {}
    for line in out.splitlines():
        if " ns   budget" in line:
            name, value = line.split(" ns   budget")[0].rsplit(None, 1)
            found[name.strip()] = float(value)
    return found


def phreeqc_seconds():
    """One solution with ice's saturation index and density, as a freezing search needs many of."""
    engine = PyIPhreeqc()
    engine.load_database(str(resources.files("pyEQL.phreeqc.database") / "pitzer.dat"))

    def call(n):
        molality = 1.0 + (n % 40) * 0.1
        engine.run_string(f"SOLUTION 1\n temp {n % 30}\n units mol/kgw\n Na {molality}\n Cl {molality}\nEND\n")

    return per_call(call, 300)


def phreeqc_blend_seconds():
    """One solution of three chlorides below freezing with ice, as an ice point of a blend needs many of."""
    engine = PyIPhreeqc()
    engine.load_database(str(resources.files("pyEQL.phreeqc.database") / "pitzer.dat"))

    def call(n):
        engine.run_string(
            f"SOLUTION 1\n temp {n % 20}\n units mol/kgw\n Na {3 + (n % 10) * 0.1}\n Ca 0.2\n Mg 0.5\n"
            f" Cl {4.4 + (n % 10) * 0.1}\nEND\n")

    return per_call(call, 300)


def whole_table():
    """Seconds for a table with all columns, by the release program."""
    random.seed(7)
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "brines.csv")
        with open(path, "w", newline="") as file:
            rows = csv.writer(file)
            rows.writerow(["nacl_wt_pct", "temp_c"])
            for _ in range(ROWS):
                rows.writerow([f"{random.uniform(0, 26):.3f}", f"{random.uniform(-5, 40):.2f}"])
        start = time.perf_counter()
        program = [os.environ.get("BRINEWRIGHT", "target/release/brinewright"), "properties", "--csv", path]
        subprocess.run(program, stdout=subprocess.DEVNULL, check=True)
        return time.perf_counter() - start


def main():
    mine = ours()
    fluid = lambda n: f"INCOMP::MNA[{0.05 + (n % 180) / 1000:.3f}]"
    peers = [
        ("freezing point", f"CoolProp {version('CoolProp')} PropsSI",
         per_call(lambda n: coolprop.PropsSI("T_freeze", "T", 293.15, "P", 101325.0, fluid(n)), 3000)),
        ("density", f"CoolProp {version('CoolProp')} PropsSI",
         per_call(lambda n: coolprop.PropsSI("D", "T", 293.15, "P", 101325.0, fluid(n)), 3000)),
        ("density", f"thermo {version('thermo')} Laliberte_density",
         per_call(lambda n: Laliberte_density(293.15, [0.05 + (n % 180) / 1000], ["7647-14-5"]), 3000)),
        ("freezing point", f"PHREEQC in pyEQL {version('pyEQL')}, one solution of the search", phreeqc_seconds()),
        ("ice point of a blend", f"PHREEQC in pyEQL {version('pyEQL')}, one solution of the search",
         phreeqc_blend_seconds()),
        ("first solid of a blend", f"PHREEQC in pyEQL {version('pyEQL')}, one solution of the search",
         phreeqc_blend_seconds()),
    ]
    slower = []
    print(f"{'property':<22} {'peer':<52} {'peer, ns':>12} {'ours, ns':>10} {'ratio':>9}")
    for name, peer, seconds in peers:
        ratio = seconds * 1e9 / mine[name]
        slower += [peer] if ratio < 1 else []
        print(f"{name:<22} {peer:<52} {seconds * 1e9:>12.0f} {mine[name]:>10.1f} {ratio:>9.1f}")
    seconds = whole_table()
    print(f"table of {ROWS} rows with 20 columns: {seconds:.2f} s, {seconds / ROWS * 1e9:.0f} ns a row on all cores")
    if slower:
        sys.exit(f"slower than {', '.join(slower)}")


if __name__ == "__main__":
    main()
