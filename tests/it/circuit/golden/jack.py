"""Writes jack.csv: what a circuit simulator reads at the jack.

Run: python jack.py > jack.csv, with ngspice (made with ngspice 39, Debian package ngspice).
Each line: wiring, total, pickup, position, wiper contact, ohms at the jack.
A current of 1 uA is sent into the jack; the voltage there over it is the resistance. The
wiper's contact is a resistor of its own, never below 1 milliohm.
"""

import re
import subprocess
import sys

ENDS = 1e-3


def deck(wiring, total, pickup, position, contact):
    below = max(total * position, ENDS)
    above = max(total * (1 - position), ENDS)
    if wiring == "standard":
        # Pickup on the top of the track, wiper to the jack.
        nodes = "Rpickup top 0 {p}\nRabove top wiper {a}\nRbelow wiper 0 {b}\nRcontact wiper jack {c}"
    else:
        # Pickup on the wiper, top of the track to the jack.
        nodes = "Rpickup hot 0 {p}\nRabove jack wiper {a}\nRbelow wiper 0 {b}\nRcontact wiper hot {c}"
    parts = nodes.format(p=repr(pickup), a=repr(above), b=repr(below), c=repr(max(contact, ENDS)))
    return (
        f"control\n{parts}\nImeter 0 jack 1u\n.options reltol=1e-9 gmin=1e-20\n"
        ".control\nset numdgt=12\nop\nprint v(jack)/1e-6\n.endc\n.end\n"
    )


def ohms(*case):
    done = subprocess.run(
        ["ngspice", "-b"], input=deck(*case), capture_output=True, text=True, check=False
    )
    return float(re.search(r"v\(jack\)/1e-6 = (\S+)", done.stdout).group(1))


print("# ngspice 39, operating point; wiring,total,pickup,position,contact,ohms")
for wiring in ("standard", "independent"):
    for total, pickup in ((250e3, 6e3), (500e3, 8e3), (250e3, 7.5e3), (300e3, 15e3)):
        for position in (0.0, 0.01, 0.05, 0.1, 0.25, 0.4, 0.5, 0.6, 0.75, 0.9, 0.95, 0.99, 1.0):
            for contact in (0.0, 2500.0):
                case = (wiring, total, pickup, position, contact)
                print(",".join(str(part) for part in (*case, ohms(*case))))
sys.stdout.flush()
