"""Touchstone files of simulated lines whose loss and crosstalk are known in closed form.

Each pair is a matched line over a common ground, both wires alike and uncoupled within the pair, so that its
differential loss is that of one wire. Crosstalk between two pairs is laid on the wires as +c and -c, which is purely
differential: the coupling in mixed mode is then 2c.
"""

import sys

import numpy as np
import pytest

from analyzer.errors import FileUnreadable
from analyzer.importing import Source, read_source
from analyzer.importing.touchstone import PORT_ORDERS, read_touchstone

FREQUENCIES = np.array([1.0, 10.0, 100.0, 250.0, 500.0])
SINGLES = ("1-2", "3-6", "4-5", "7-8")


def loss_db(f, pair=0):
    """Invented: 2 sqrt(f/MHz) / 10 + 0.01 f, a little more for each pair."""
    return (0.2 * np.sqrt(f) + 0.01 * f) * (1 + 0.1 * pair)


def near_db(f):
    return 80.0 - 15 * np.log10(f)


def far_db(f):
    return 90.0 - 20 * np.log10(f)


def scattering(pairs):
    """(frequencies, ports, ports), end A first: wires of all pairs, then the same at end B."""
    size = 4 * pairs
    s = np.zeros((len(FREQUENCIES), size, size), dtype=complex)
    delay = np.exp(-2j * np.pi * FREQUENCIES * 1e6 * 300e-9)
    half = 2 * pairs
    for k in range(pairs):
        through = 10 ** (-loss_db(FREQUENCIES, k) / 20) * delay
        for wire in (2 * k, 2 * k + 1):
            s[:, wire, half + wire] = s[:, half + wire, wire] = through
            s[:, wire, wire] = s[:, half + wire, half + wire] = 10 ** (-(20.0 + k) / 20)
    for j in range(pairs):
        for k in range(pairs):
            if j == k:
                continue
            for one in (0, 1):
                for two in (0, 1):
                    sign = 1 if one == two else -1
                    near = sign * 10 ** (-near_db(FREQUENCIES) / 20) / 2
                    far = sign * 10 ** (-far_db(FREQUENCIES) / 20) / 2
                    for base in (0, half):
                        s[:, base + 2 * k + one, base + 2 * j + two] = near
                        s[:, (half - base) + 2 * k + one, base + 2 * j + two] = far
    return s


def written(s, *, version="1.1", unit="MHz", order="end A first", ohm=50):
    """Text of a Touchstone file, real and imaginary parts, four values a line."""
    size = s.shape[1]
    if order == "wire by wire":
        old = np.arange(size)
        new = np.where(old % 2 == 0, old // 2, size // 2 + old // 2)
        s = s[:, new][:, :, new]
    scale = {"MHz": 1.0, "Hz": 1e6, "GHz": 1e-3}[unit]
    lines = ["! invented, simulated", f"# {unit} S RI R {ohm}"]
    if version == "2.0":
        lines = ["[Version] 2.0", *lines, f"[Number of Ports] {size}", f"[Number of Frequencies] {len(FREQUENCIES)}", "[Network Data]"]  # fmt: skip
    for f, matrix in zip(FREQUENCIES, s, strict=True):
        for row in range(size):
            cells = [f"{value.real:.17g} {value.imag:.17g}" for value in matrix[row]]
            for begin in range(0, size, 4):
                head = f"{f * scale:.12g} " if row == begin == 0 else " "
                lines.append(head + " ".join(cells[begin : begin + 4]))
    if version == "2.0":
        lines.append("[End]")
    return ("\n".join(lines) + "\n").encode()


def source_of(pairs, name="C-01", **how):
    return Source(f"{name}.s{4 * pairs}p", written(scattering(pairs), **how))


def curves_of(imported):
    keys = imported.curves[["parameter", "pair", "end"]].astype(str).to_numpy().tolist()
    return {tuple(key): imported.points.curve(number) for number, key in enumerate(keys)}


def test_without_scikit_rf_one_sentence_says_how_to_install_it(monkeypatch):
    monkeypatch.setitem(sys.modules, "skrf", None)
    with pytest.raises(FileUnreadable, match=r"scikit-rf, which is not installed; install it: pip install"):
        read_source(source_of(1))


class TestWithScikitRf:
    @pytest.fixture(autouse=True)
    def _reader(self):
        pytest.importorskip("skrf", reason="the extra named touchstone is not installed")

    @pytest.mark.parametrize("pairs", [1, 2, 3, 4])
    @pytest.mark.parametrize("version", ["1.1", "2.0"])
    def test_loss_and_crosstalk_of_a_simulated_line_in_closed_form(self, pairs, version):
        found = curves_of(read_source(source_of(pairs, version=version)))
        combinations = pairs * (pairs - 1) // 2
        assert len(found) == 2 * (2 * pairs + 2 * combinations)
        for (parameter, pair, _), (frequency, value) in found.items():
            np.testing.assert_allclose(frequency, FREQUENCIES)
            members = [SINGLES.index(half) for half in pair.split("/")]
            expected = {
                "insertion loss": loss_db(FREQUENCIES, members[0]),
                "return loss": np.full(len(FREQUENCIES), 20.0 + members[0]),
                "NEXT": near_db(FREQUENCIES),
                "ACR-F": far_db(FREQUENCIES) - loss_db(FREQUENCIES, max(members)),
            }[parameter]
            np.testing.assert_allclose(value, expected, atol=1e-9)

    @pytest.mark.parametrize("order", PORT_ORDERS)
    @pytest.mark.parametrize("pairs", [1, 4])
    def test_the_order_of_the_ports_is_settled_by_physics_and_told(self, order, pairs):
        wanted = curves_of(read_source(source_of(pairs)))
        imported = read_source(source_of(pairs, order=order))
        found = curves_of(imported)
        assert found.keys() == wanted.keys()
        assert all((found[key][1] == wanted[key][1]).all() for key in wanted)
        assert f"taken as {order}" in " ".join(imported.seeds["text"])

    def test_an_order_that_nothing_settles_is_refused_and_can_be_stated(self):
        flat = np.full((len(FREQUENCIES), 4, 4), 0.25 + 0j)
        source = Source("C-01.s4p", written(flat))
        with pytest.raises(FileUnreadable, match="nothing tells the order of its ports"):
            read_source(source)
        assert len(read_touchstone(source, "end A first").curves) == 4

    @pytest.mark.parametrize("unit", ["Hz", "GHz"])
    def test_units_of_frequency(self, unit):
        imported = read_source(source_of(1, unit=unit))
        np.testing.assert_allclose(imported.points.frequency_mhz[0], FREQUENCIES, rtol=1e-9)

    def test_the_record_is_named_by_the_file_and_the_accounts_add_up(self):
        imported = read_source(source_of(4))
        assert imported.records["label"].tolist() == ["C-01"]
        assert imported.records["medium"].tolist() == ["twisted pair"]
        assert imported.blocks["kind"].tolist() == ["network"]
        file = imported.file
        assert file["cells_read"] == file["cells_used"] == len(imported.points.value)
        assert file["rows_read"] == file["rows_used"] == len(FREQUENCIES)

    @pytest.mark.parametrize(
        ("name", "data", "sentence"),
        [
            ("C-01.s4p", b"# MHz S RI R 50\n1 0 0 0\n", "broken"),
            ("C-01.s4p", b"rubbish\n", "broken"),
            ("C-01.s2p", b"# MHz S RI R 50\n1 0 0 1 0 1 0 0 0\n2 0 0 1 0 1 0 0 0\n", "2 ports are no whole pairs"),
            ("C-01.s4p", b"[Version] 2.0\n# MHz S RI R 50\n[Number of Ports] 4\n[Reference] 50\n", "broken"),
        ],
    )
    def test_what_is_broken_is_refused_in_a_sentence(self, name, data, sentence):
        with pytest.raises(FileUnreadable, match=sentence):
            read_source(Source(name, data))

    def test_a_torn_file_is_refused_or_ends_with_its_last_whole_point(self):
        whole = source_of(1).data
        refused = 0
        for cut in range(40, len(whole) - 30, 97):
            try:
                imported = read_source(Source("C-01.s4p", whole[:cut]))
            except FileUnreadable:
                refused += 1
            else:
                kept = imported.points.frequency_mhz[0]
                np.testing.assert_allclose(kept, FREQUENCIES[: len(kept)])
        assert refused

    def test_a_network_of_two_coupled_lines_of_scikit_rf(self):
        # scikit-rf makes and joins the ports itself: two lossy lines of known loss beside each other, no crosstalk
        import skrf
        from skrf.media import DefinedGammaZ0

        frequency = skrf.Frequency(1, 500, 200, unit="MHz")
        neper_per_m = 0.03 + 0.02 * np.sqrt(frequency.f / 1e6)
        line = DefinedGammaZ0(frequency, gamma=neper_per_m + 2j * np.pi * frequency.f / 2e8, z0=50)
        wire = line.line(1.0, "m")
        s = np.zeros((200, 4, 4), dtype=complex)
        for one in (0, 1):
            s[:, one, one] = s[:, 2 + one, 2 + one] = wire.s[:, 0, 0]
            s[:, 2 + one, one] = s[:, one, 2 + one] = wire.s[:, 1, 0]
        data = skrf.Network(frequency=frequency, s=s, z0=50, name="pair").write_touchstone(return_string=True)
        found = curves_of(read_source(Source("pair.s4p", data.encode())))
        # two equal uncoupled wires lose in differential mode what each loses alone: 20 log10(e) dB a neper
        expected = 20 * np.log10(np.e) * neper_per_m
        np.testing.assert_allclose(found["insertion loss", "1-2", "A"][1], expected, atol=1e-6)

    def test_networks_that_come_with_scikit_rf_and_have_two_ports_are_refused_in_a_sentence(self):
        import skrf.data

        data = skrf.data.ring_slot.write_touchstone(return_string=True).encode()
        with pytest.raises(FileUnreadable, match="2 ports are no whole pairs"):
            read_source(Source("ring slot.s2p", data))

    def test_a_file_of_ports_is_judged_in_the_run(self, tmp_path):
        from analyzer import analyze
        from analyzer.job import CommandLine

        path = tmp_path / "C-01.s16p"
        path.write_bytes(source_of(4).data)
        analysis = analyze(tmp_path, given=CommandLine(grade="6A", configuration="permanent link"))
        assert analysis.links["label"].tolist() == ["C-01"]
        assert {"insertion loss", "NEXT", "PSNEXT", "ACR-F", "return loss"} <= set(
            analysis.readings["parameter"].dropna()
        )
        assert (analysis.judged["basis"] == "curve").all()
        assert {"port-order-by-physics", "pairs-by-port-order"} <= {found.code for found in analysis.findings}
        assert (analysis.files["cells_used"] == analysis.files["cells_read"]).all()
        assert (analysis.judged["verdict"] != "not judged").any()
