r"""Impedance and admittance of buried conductors, and exact sections of coupled lines.

A conductor in the ground is a line with a series impedance :math:`Z` and a shunt admittance :math:`Y` for
each metre; time goes as :math:`e^{+j\omega t}`. :math:`Z` is its own (skin effect in the metal) plus that of
the field around it, whose return is the ground; :math:`Y` is the leakage and capacitance of its coating in
series with the spreading of the leaked current in the soil. All of it is quasi-TEM: `quasi_tem_limit`
says up to which frequency that may be used.

Bessel functions come exponentially scaled, so that nothing overflows at thick walls and high frequencies.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.polynomial.legendre import leggauss
from numpy.typing import ArrayLike, NDArray
from scipy.special import ive, kv, kve

from plumbmark.base.compiled import kernel
from plumbmark.base.constants import MU_0
from plumbmark.base.errors import GeometryError

FLOATS = NDArray[np.float64]
COMPLEXES = NDArray[np.complex128]

#: Permittivity of free space [F/m].
EPSILON_0: Final = 8.8541878128e-12

#: exp of Euler's constant.
_GAMMA: Final = 1.7810724179901979

#: |m D| up to which the closed form stands for Pollaczek's integral: within 1e-3 of it there, see tests.
CLOSED_UP_TO: Final = 0.05

_TURN: Final = 0.4  # the path of integration leaves the real axis by this angle [rad]
_NODES, _WEIGHTS = leggauss(12)


def soil_wavenumber(frequency_hz: ArrayLike, resistivity: float) -> COMPLEXES:
    r"""Propagation constant of the soil, :math:`m = \sqrt{j\omega\mu_0/\rho} = (1+j)/\delta` [1/m].

    Examples
    --------
    100 ohm m at 10 kHz: the skin depth is 50.3 m.

    >>> m = soil_wavenumber(10e3, 100.0)
    >>> round(float(1 / m.real), 1), round(float(1 / m.imag), 1)
    (50.3, 50.3)
    """
    return np.asarray(np.sqrt(2j * math.pi * np.asarray(frequency_hz, float) * MU_0 / resistivity))


def quasi_tem_limit(resistivity: float, deepest: float, relative_permittivity: float = 10.0) -> float:
    r"""Highest frequency at which a buried line may be told by one impedance and one admittance [Hz].

    Parameters
    ----------
    resistivity : float, [ohm m], above 0
        Of the soil.
    deepest : float, [m], above 0
        Depth of the deepest line.
    relative_permittivity : float
        Of the soil.

    Returns
    -------
    float, [Hz]
        The lower of two bounds.

    Notes
    -----
    Displacement current in the soil stays below a tenth of the conduction current,
    :math:`\omega\varepsilon\rho \le 0.1`; and the depth stays below half a skin depth, so that the surface
    is near for the field. Below it there is no lower bound down to some hertz. Both thresholds are common
    practice, no source.

    Examples
    --------
    >>> print(f"{quasi_tem_limit(100.0, 1.0):.3g} {quasi_tem_limit(5.0, 3.0):.3g}")
    1.8e+06 3.52e+04
    """
    if not (resistivity > 0 and deepest > 0):
        raise GeometryError(f"soil of {resistivity} ohm m, depth {deepest} m: both are above 0")
    displacement = 0.1 / (2.0 * math.pi * EPSILON_0 * relative_permittivity * resistivity)
    shallow = resistivity / (math.pi * MU_0) * (0.5 / deepest) ** 2
    return min(displacement, shallow)


def wire_impedance(
    frequency_hz: ArrayLike, radius: float, resistivity: float, relative_permeability: float = 1.0
) -> COMPLEXES:
    r"""Internal impedance of a solid round wire, skin effect included.

    Parameters
    ----------
    frequency_hz : float or array, shape (...), [Hz], above 0
    radius : float, [m], above 0
    resistivity : float, [ohm m], above 0
        Of the metal.
    relative_permeability : float

    Returns
    -------
    complex array, shape (...), [ohm/m]

    Raises
    ------
    GeometryError
        If a frequency or size is not above 0.

    Notes
    -----
    :math:`Z = \frac{m\rho}{2\pi a}\frac{I_0(ma)}{I_1(ma)}`, :math:`m = \sqrt{j\omega\mu/\rho}`
    (Schelkunoff, Bell System Technical Journal 13, 1934).

    Examples
    --------
    Copper of 1.63 mm at 50 Hz: its direct-current resistance, 8.3 ohm/km.

    >>> round(float(wire_impedance(50.0, 0.000814, 1.724e-8).real) * 1e3, 2)
    8.28
    """
    f = np.asarray(frequency_hz, float)
    _above_zero(frequency=f, radius=radius, resistivity=resistivity)
    m = np.sqrt(2j * math.pi * f * MU_0 * relative_permeability / resistivity)
    x = m * radius
    return np.asarray(m * resistivity / (2.0 * math.pi * radius) * ive(0, x) / ive(1, x))


def tube_impedance(
    frequency_hz: ArrayLike,
    radius: float,
    wall: float,
    resistivity: float,
    relative_permeability: float = 1.0,
) -> COMPLEXES:
    r"""Internal impedance of a tube at its outer surface, the current returning outside.

    Parameters
    ----------
    frequency_hz : float or array, shape (...), [Hz], above 0
    radius, wall : float, [m]
        Outer radius and thickness; a wall as thick as the radius is a solid wire.
    resistivity, relative_permeability : float
        Of the metal; [ohm m].

    Returns
    -------
    complex array, shape (...), [ohm/m]

    Raises
    ------
    GeometryError
        If a frequency or size is not above 0, or the wall is thicker than the radius.

    Notes
    -----
    :math:`Z = \frac{m\rho}{2\pi b}\frac{I_0(mb)K_1(ma)+K_0(mb)I_1(ma)}{I_1(mb)K_1(ma)-K_1(mb)I_1(ma)}`
    with :math:`b` the outer and :math:`a` the inner radius (Schelkunoff 1934).
    """
    f = np.asarray(frequency_hz, float)
    _above_zero(frequency=f, radius=radius, wall=wall, resistivity=resistivity)
    if wall > radius * (1.0 + 1e-9):
        raise GeometryError(f"a wall of {wall} m is thicker than the outer radius of {radius} m")
    if wall >= radius * (1.0 - 1e-6):
        return wire_impedance(f, radius, resistivity, relative_permeability)
    m = np.sqrt(2j * math.pi * f * MU_0 * relative_permeability / resistivity)
    b, a = m * radius, m * (radius - wall)
    back = np.exp(-(b - a) - (b.real - a.real))  # there and back through the wall
    above = ive(0, b) * kve(1, a) + back * kve(0, b) * ive(1, a)
    below = ive(1, b) * kve(1, a) - back * kve(1, b) * ive(1, a)
    return np.asarray(m * resistivity / (2.0 * math.pi * radius) * above / below)


@kernel
def _pollaczek_integral(
    m: COMPLEXES, depth_sum: FLOATS, apart: FLOATS, turn: float, nodes: FLOATS, weights: FLOATS
) -> COMPLEXES:
    """Integral of exp(-H u) cos(l x) / (l + u) over l from 0, u^2 = l^2 + m^2, for each (m, H, x).

    The cosine is split in its two exponentials, and each is followed into the quadrant where it dies.
    """
    out = np.zeros(m.size, np.complex128)
    for n in range(m.size):
        h = depth_sum[n]
        x = abs(apart[n])
        decay = h * math.cos(turn) + x * math.sin(turn)
        top = 42.0 / decay
        first = 1e-3 * min(abs(m[n]), 1.0 / h, 1.0 / (x + 1e-12))
        total = 0.0j
        low = 0.0
        high = first
        while low < top:
            for i in range(nodes.size):
                t = 0.5 * (high - low) * (nodes[i] + 1.0) + low
                w = 0.5 * (high - low) * weights[i]
                for side in range(2):
                    direction = complex(math.cos(turn), math.sin(turn) if side == 0 else -math.sin(turn))
                    wave = t * direction
                    u = np.sqrt(wave * wave + m[n] * m[n])
                    phase = 1j * wave * x if side == 0 else -1j * wave * x
                    total += 0.5 * w * direction * np.exp(phase - h * u) / (wave + u)
            low = high
            high = low + min(0.8 * low, 2.0 / h, 6.0 / (x + 1e-12))
        out[n] = total
    return out


def pollaczek_impedance(
    frequency_hz: ArrayLike,
    resistivity: float,
    depth: ArrayLike,
    other_depth: ArrayLike,
    apart: ArrayLike,
) -> COMPLEXES:
    r"""Impedance of the ground return of long buried lines, by Pollaczek's integral.

    Parameters
    ----------
    frequency_hz : float or array, [Hz], above 0
    resistivity : float, [ohm m], above 0
        Of the soil.
    depth, other_depth : float or array, [m], above 0
        Of the two lines; of one line, its depth twice.
    apart : float or array, [m]
        Across, in plan; of one line its outer radius, which must then be above 0.

    Returns
    -------
    complex array, broadcast shape, [ohm/m]
        Mutual impedance; for one line its own without that of the metal.

    Raises
    ------
    GeometryError
        If a value is not above 0 or the two lines are one and the same.

    Notes
    -----
    .. math:: Z = \frac{j\omega\mu_0}{2\pi}\left[K_0(md) - K_0(mD) + 2\int_0^\infty
              \frac{e^{-(h_1+h_2)u}}{l+u}\cos(lx)\,dl\right],\quad u^2 = l^2 + m^2,

    :math:`d^2 = x^2 + (h_1-h_2)^2`, :math:`D^2 = x^2 + (h_1+h_2)^2` (Pollaczek 1926). Uniform soil of the
    permeability of air, displacement current left out.

    Examples
    --------
    1 m deep, radius 25 mm, 100 ohm m, 10 kHz: 10.17 + j 98.65 ohm/km.

    >>> z = pollaczek_impedance(10e3, 100.0, 1.0, 1.0, 0.025) * 1e3
    >>> print(f"{z.real:.2f} {z.imag:.2f}")
    10.17 98.65
    """
    f, h1, h2, x = _broadcast(frequency_hz, resistivity, depth, other_depth, apart)
    m = soil_wavenumber(f, resistivity)
    direct, image = np.hypot(x, h1 - h2), np.hypot(x, h1 + h2)
    integral = _pollaczek_integral(np.ravel(m), np.ravel(h1 + h2), np.ravel(x), _TURN, _NODES, _WEIGHTS)
    inside = kv(0, m * direct) - kv(0, m * image) + 2.0 * integral.reshape(f.shape)
    return np.asarray(1j * f * MU_0 * inside)


def closed_impedance(
    frequency_hz: ArrayLike,
    resistivity: float,
    depth: ArrayLike,
    other_depth: ArrayLike,
    apart: ArrayLike,
) -> COMPLEXES:
    r"""The same in closed form, for small :math:`|mD|` only.

    Parameters, returns, raises
        As `pollaczek_impedance`.

    Notes
    -----
    :math:`\frac{j\omega\mu_0}{2\pi}[-\ln\frac{\gamma z}{2} + \frac12 - \frac{z^2}{8}(\ln\frac{\gamma z}{2} -
    \frac54) - \frac23 m(h_1+h_2)]`, :math:`z = md`: Wedepohl and Wilcox (1973) with the next term of the
    series for two lines on the surface. Within 1e-3 of the integral for :math:`|mD| \le 0.05`.
    """
    f, h1, h2, x = _broadcast(frequency_hz, resistivity, depth, other_depth, apart)
    m = soil_wavenumber(f, resistivity)
    z = m * np.hypot(x, h1 - h2)
    near = -np.log(0.5 * _GAMMA * z) + 0.5 - z * z / 8.0 * (np.log(0.5 * _GAMMA * z) - 1.25)
    return np.asarray(1j * f * MU_0 * (near - (2.0 / 3.0) * m * (h1 + h2)))


def ground_return_impedance(
    frequency_hz: ArrayLike,
    resistivity: float,
    depth: ArrayLike,
    other_depth: ArrayLike,
    apart: ArrayLike,
) -> COMPLEXES:
    """Ground-return impedance: the closed form where it is proven, the integral elsewhere.

    Parameters, returns, raises
        As `pollaczek_impedance`.
    """
    f, h1, h2, x = _broadcast(frequency_hz, resistivity, depth, other_depth, apart)
    size = np.abs(soil_wavenumber(f, resistivity)) * np.hypot(x, h1 + h2)
    near = size <= CLOSED_UP_TO
    out = np.empty(f.shape, complex)
    if np.any(near):
        out[near] = closed_impedance(f[near], resistivity, h1[near], h2[near], x[near])
    if not np.all(near):
        far = ~near
        out[far] = pollaczek_impedance(f[far], resistivity, h1[far], h2[far], x[far])
    return out


def coating_admittance(
    frequency_hz: ArrayLike,
    radius: float,
    thickness: float,
    relative_permittivity: float,
    coating_resistance: float,
) -> COMPLEXES:
    r"""Admittance of a coating or jacket, metal to soil.

    Parameters
    ----------
    frequency_hz : float or array, shape (...), [Hz]
    radius, thickness : float, [m], above 0
        Radius of the metal and thickness of the coating on it.
    relative_permittivity : float
    coating_resistance : float, [ohm m^2]
        Of a square metre of coated surface, its flaws included; infinite for none.

    Returns
    -------
    complex array, shape (...), [S/m]

    Notes
    -----
    :math:`2\pi a / R_c + j\omega\,2\pi\varepsilon/\ln(1 + t/a)`.

    Examples
    --------
    A pipe of 219.1 mm with 10,000 ohm m^2: 68.8 microsiemens for each metre.

    >>> y = coating_admittance(0.0, 0.10955, 0.002, 2.3, 1e4)
    >>> round(float(y.real) * 1e6, 1)
    68.8
    """
    _above_zero(radius=radius, thickness=thickness, coating_resistance=coating_resistance)
    f = np.asarray(frequency_hz, float)
    capacitance = 2.0 * math.pi * EPSILON_0 * relative_permittivity / math.log1p(thickness / radius)
    return np.asarray(2.0 * math.pi * radius / coating_resistance + 2j * math.pi * f * capacitance)


def spreading_coefficient(
    resistivity: float, depth: ArrayLike, other_depth: ArrayLike, apart: ArrayLike, length: ArrayLike
) -> FLOATS:
    r"""Rise of soil potential at a line for each ampere a metre that another leaks (or itself).

    Parameters
    ----------
    resistivity : float, [ohm m]
    depth, other_depth, apart : float or array, [m]
        As in `pollaczek_impedance`; of one line its outer radius is `apart`.
    length : float or array, [m]
        Over which the leaked current spreads.

    Returns
    -------
    array, broadcast shape, [ohm m]
        0 or above.

    Notes
    -----
    :math:`\frac{\rho}{\pi}\left[\ln\frac{2L}{\sqrt{dD}} - 1\right]` (Sunde, Earth Conduction Effects in
    Transmission Systems, 1949, for one line with :math:`d = a`; from memory). Where the propagation constant
    :math:`\Gamma` makes the line die out sooner, :math:`L = 1.52/|\Gamma|` gives Sunde's long-line form.

    Examples
    --------
    100 ohm m, 1 m deep, radius 1 cm, 100 m long: 200 / sqrt(0.02) = 1414, ln 7.25, less 1, by 31.83.

    >>> round(float(spreading_coefficient(100.0, 1.0, 1.0, 0.01, 100.0)), 1)
    199.1
    """
    h1, h2, x = np.asarray(depth, float), np.asarray(other_depth, float), np.asarray(apart, float)
    direct, image = np.hypot(x, h1 - h2), np.hypot(x, h1 + h2)
    inside = np.log(2.0 * np.asarray(length, float) / np.sqrt(direct * image)) - 1.0
    return np.asarray(resistivity / math.pi * np.maximum(inside, 0.0))


def section_shunt(impedance: COMPLEXES, admittance: COMPLEXES, length: FLOATS) -> tuple[COMPLEXES, COMPLEXES]:
    r"""What the shunt admittance adds to the nodal admittance of sections of coupled lines, exactly.

    Parameters
    ----------
    impedance, admittance : complex array, shape (..., n, n), [ohm/m], [S/m]
        Of n lines side by side.
    length : array, shape (...), [m]

    Returns
    -------
    own, across : complex array, shape (..., n, n), [S]
        The nodal admittance of a section is :math:`(Zl)^{-1}` + `own` at each end and
        :math:`-(Zl)^{-1}` + `across` from one end to the other.

    Notes
    -----
    With :math:`ZY = T \operatorname{diag}(\gamma^2) T^{-1}` and :math:`x = \gamma l`, `own` is
    :math:`(Zl)^{-1} T \operatorname{diag}(x \coth x - 1) T^{-1}`, and `across` has :math:`1 - x/\sinh x`
    there: the modes of the telegraph equations. The part without shunt is kept out, so that no digits are
    lost where little leaks.
    """
    long = np.asarray(length, float)
    values, modes = np.linalg.eig(np.asarray(impedance @ admittance, complex))
    squared = np.asarray(values * long[..., None] ** 2, complex)
    back = np.linalg.inv(np.asarray(impedance * long[..., None, None], complex))
    inverse = np.linalg.inv(modes)
    own = back @ (modes * _coth_less_one(squared)[..., None, :]) @ inverse
    across = back @ (modes * _one_less_csch(squared)[..., None, :]) @ inverse
    return np.asarray(own, complex), np.asarray(across, complex)


def _coth_less_one(square: COMPLEXES) -> COMPLEXES:
    """X coth x - 1, of x^2."""
    x = np.sqrt(np.where(np.abs(square) < 0.05, 1.0, square))
    e = np.exp(-2.0 * x)
    series = square * (1 / 3 - square * (1 / 45 - square * (2 / 945 - square * (1 / 4725))))
    return np.asarray(np.where(np.abs(square) < 0.05, series, x * (1.0 + e) / (1.0 - e) - 1.0))


def _one_less_csch(square: COMPLEXES) -> COMPLEXES:
    """1 - x / sinh x, of x^2."""
    x = np.sqrt(np.where(np.abs(square) < 0.05, 1.0, square))
    e = np.exp(-x)
    series = square * (1 / 6 - square * (7 / 360 - square * (31 / 15120 - square * (127 / 604800))))
    return np.asarray(np.where(np.abs(square) < 0.05, series, 1.0 - 2.0 * x * e / (1.0 - e * e)))


def _broadcast(
    frequency_hz: ArrayLike, resistivity: float, depth: ArrayLike, other_depth: ArrayLike, apart: ArrayLike
) -> tuple[FLOATS, FLOATS, FLOATS, FLOATS]:
    f, h1, h2, x = np.broadcast_arrays(
        *(np.asarray(v, float) for v in (frequency_hz, depth, other_depth, apart))
    )
    _above_zero(frequency=f, resistivity=resistivity, depth=np.minimum(h1, h2))
    if not np.all(np.hypot(x, h1 - h2) > 0):
        raise GeometryError("two lines lie in one and the same place: of one line, give its radius as apart")
    return f, h1, h2, x


def _above_zero(**values: ArrayLike) -> None:
    for name, value in values.items():
        if not np.all(np.asarray(value) > 0):
            raise GeometryError(f"{name.replace('_', ' ')} is {np.min(value)}: it is above 0")
