"""Print the viscosities of n-hexadecane that expected.csv stores, by thermo 0.6.1.

Run by hand: ``python tests/outside/fluids_library/produce.py``. The tests need only the stored
figures, because importing that library takes many seconds.
"""

from __future__ import annotations

from thermo import Chemical

if __name__ == "__main__":
    for t_degc in (20.0, 40.0, 60.0, 80.0, 100.0):
        nu_mm2_s = Chemical("n-hexadecane", T=t_degc + 273.15, P=101325.0).nul * 1e6
        print(f"{t_degc:g} degC: {nu_mm2_s:.7g} mm2/s")
