r"""Field of image lines, and its slopes: the one sum that simulation, fit and drawing share.

A long straight line in air is one image (its depth real, its current in amperes); a line in conducting
ground is a short sum of images whose depths and currents are complex (see `halfspace`). Over image :math:`j`
at lateral position :math:`x_j`, complex depth :math:`p_j` and complex current :math:`c_j`, a coil at lateral
:math:`x` and height :math:`h` sees

.. math:: H = \sum_j \frac{c_j D_j}{D_j^2 + (x-x_j)^2}, \quad
          V = \sum_j \frac{c_j (x-x_j)}{D_j^2 + (x-x_j)^2}, \quad D_j = h + p_j,

across the line and upright (down), in A/m times :math:`2\pi`; the factor :math:`\mu_0/2\pi` drops out of
everything that a display shows. Amplitudes are RMS. Both are parts of two analytic functions,
:math:`F_\pm = \sum_j c_j / (D_j \pm j (x - x_j))`, with :math:`H = (F_+ + F_-)/2` and
:math:`V = j (F_+ - F_-)/2`: a slope by :math:`x` or :math:`h` is one more power of the same factor.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plumbmark.base.compiled import kernel, summing_kernel
from plumbmark.base.errors import GeometryError

FLOATS = NDArray[np.float64]
COMPLEXES = NDArray[np.complex128]


@summing_kernel
def across_upright(
    x: float, height: float, at: FLOATS, depth: COMPLEXES, current: COMPLEXES, n: int
) -> tuple[complex, complex]:
    """Field across the line and upright at one point, scaled by 2 pi / mu0 [A/m]."""
    h_re = h_im = v_re = v_im = 0.0
    for j in range(n):
        p = depth[j]
        c = current[j]
        dx = x - at[j]
        d = height + p.real
        # one over D^2 + x^2, by real arithmetic: a complex division costs more than all the rest
        s_re = d * d - p.imag * p.imag + dx * dx
        s_im = 2.0 * d * p.imag
        f = 1.0 / (s_re * s_re + s_im * s_im)
        q_re = (c.real * s_re + c.imag * s_im) * f
        q_im = (c.imag * s_re - c.real * s_im) * f
        h_re += q_re * d - q_im * p.imag
        h_im += q_re * p.imag + q_im * d
        v_re += q_re * dx
        v_im += q_im * dx
    return complex(h_re, h_im), complex(v_re, v_im)


@summing_kernel
def field_slopes(
    x: float, height: float, at: FLOATS, depth: COMPLEXES, current: COMPLEXES, n: int
) -> tuple[complex, complex, complex, complex, complex, complex]:
    """Field across, its first and second slope along `x`; then the same of the upright field.

    The slopes by height are those of the other component: dH/dh = -dV/dx and dV/dh = dH/dx.
    """
    # sums of c w, c w^2, c w^3 for w = 1 / (D + jx), then for 1 / (D - jx)
    a_re = a_im = b_re = b_im = e_re = e_im = 0.0
    k_re = k_im = m_re = m_im = s_re = s_im = 0.0
    for j in range(n):
        p = depth[j]
        c = current[j]
        dx = x - at[j]
        d = height + p.real
        y = p.imag + dx
        f = 1.0 / (d * d + y * y)
        re = d * f
        im = -y * f
        t_re = c.real * re - c.imag * im
        t_im = c.real * im + c.imag * re
        a_re += t_re
        a_im += t_im
        u_re = t_re * re - t_im * im
        u_im = t_re * im + t_im * re
        b_re += u_re
        b_im += u_im
        e_re += u_re * re - u_im * im
        e_im += u_re * im + u_im * re
        y = p.imag - dx
        f = 1.0 / (d * d + y * y)
        re = d * f
        im = -y * f
        t_re = c.real * re - c.imag * im
        t_im = c.real * im + c.imag * re
        k_re += t_re
        k_im += t_im
        u_re = t_re * re - t_im * im
        u_im = t_re * im + t_im * re
        m_re += u_re
        m_im += u_im
        s_re += u_re * re - u_im * im
        s_im += u_re * im + u_im * re
    return (
        0.5 * complex(a_re + k_re, a_im + k_im),
        0.5 * complex(b_im - m_im, m_re - b_re),
        -complex(e_re + s_re, e_im + s_im),
        0.5 * complex(k_im - a_im, a_re - k_re),
        0.5 * complex(b_re + m_re, b_im + m_im),
        complex(e_im - s_im, s_re - e_re),
    )


@kernel
def fields(
    x: FLOATS,
    height: FLOATS,
    at: FLOATS,
    depth: COMPLEXES,
    current: COMPLEXES,
    n: int,
    out_across: COMPLEXES,
    out_upright: COMPLEXES,
) -> None:
    """`across_upright` at many points, arrays of shape (m,); fills the last two."""
    for i in range(x.shape[0]):
        out_across[i], out_upright[i] = across_upright(x[i], height[i], at, depth, current, n)


def image_lines(
    easting: ArrayLike, depth: ArrayLike, current: ArrayLike
) -> tuple[FLOATS, COMPLEXES, COMPLEXES]:
    """Lateral places, complex depths and currents as the kernels take them; raises where they do not fit."""
    e = np.atleast_1d(np.asarray(easting, dtype=np.float64))
    d = np.atleast_1d(np.asarray(depth, dtype=np.complex128))
    c = np.atleast_1d(np.asarray(current, dtype=np.complex128))
    if not (e.shape == d.shape == c.shape and e.ndim == 1):
        raise GeometryError(f"positions, depths, currents differ in shape: {e.shape}, {d.shape}, {c.shape}")
    if not np.all(d.real > 0.0):
        raise GeometryError(f"line depths {d.real.tolist()} m: each is above 0, positive down")
    return e, d, c


def field_along(
    offsets: ArrayLike,
    heights: ArrayLike,
    line_easting: ArrayLike,
    line_depth: ArrayLike,
    current: ArrayLike,
) -> tuple[COMPLEXES, COMPLEXES]:
    """Across-line and upright field at many points, scaled by 2 pi / mu0 [A/m].

    Parameters
    ----------
    offsets, heights : array, broadcastable, [m]
        Lateral positions of the coil and its heights above ground.
    line_easting, line_depth, current
        As in `display.peak_position`.

    Returns
    -------
    across, upright : complex array of the broadcast shape, [A/m]

    Raises
    ------
    GeometryError
        As `display.peak_position`.
    """
    e, d, c = image_lines(line_easting, line_depth, current)
    x, z = np.broadcast_arrays(np.asarray(offsets, dtype=float), np.asarray(heights, dtype=float))
    across, upright = np.empty(x.size, complex), np.empty(x.size, complex)
    fields(np.ravel(x), np.ravel(z), e, d, c, len(e), across, upright)
    return across.reshape(x.shape), upright.reshape(x.shape)
