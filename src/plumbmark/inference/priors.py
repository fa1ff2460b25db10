"""Every prior scale and prior odds, in one table, each with its reason.

They decide what the data cannot. All of it is common practice or judgement, no source, unless a line says
otherwise; the noise figures are those of the file contract.
"""

from __future__ import annotations

import math
from typing import Final

# -- noise of the numbers a crew writes down, one sigma (the file contract) ----------------------------
PEAK_SIGMA_M: Final = 0.03  # finding a peak or a null by hand ...
PEAK_SIGMA_OF_DEPTH: Final = 0.01  # ... and its share that grows with depth
HALF_SIGMA_M: Final = 0.03  # half points
DEPTH_SIGMA: Final = 0.03  # displayed depth, relative
CURRENT_SIGMA: Final = 0.04  # displayed current, relative
RAISE_SIGMA_M: Final = 0.01  # the height of the block the receiver stood on
FIX_SIGMA_M: Final = 0.02  # position fix
#: Two rows alike to the last digit are one written down twice where luck makes that rarer than crews do:
#: about 1 row in 150 of the invented jobs, common practice, no source.
SAME_BY_LUCK: Final = 0.006
PROFILE_SIGMA: Final = 0.02  # profile amplitude, relative ...
PROFILE_FLOOR: Final = 0.005  # ... plus this share of the largest
PROFILE_OFFSET_SIGMA_M: Final = 0.01
SCATTER_LOG_SIGMA: Final = 0.30  # ln 1.35: a job's own scatter moves all of them together
COIL_ERROR_SIGMA: Final = 0.003  # upper coil against lower, common to all rows of a receiver

# -- slips: the share of cells that are not what the noise says ----------------------------------------
SLIP_ODDS: Final = 0.02  # one cell in fifty: a crew's log without checks
FLIP_ODDS: Final = 0.01  # left written for right

# -- the ground and the receiver -----------------------------------------------------------------------
SOIL_MEDIAN_OHM_M: Final = 60.0  # the file contract, soil not given
SOIL_FACTOR: Final = 3.0
LOWER_COIL_M: Final = (0.03, 0.12)  # the file contract, receiver not given
COIL_SPACING_M: Final = (0.30, 0.60)
FREQUENCY_HZ: Final = 8000.0  # where none is written: the middle of the usual range, on a log scale

# -- the line itself -----------------------------------------------------------------------------------
DEPTH_MEDIAN_M: Final = 1.0  # cover tables: 12 to 48 in for nearly everything
DEPTH_LOG_SIGMA: Final = 0.55
DEPTH_SLOPE_SIGMA: Final = 0.016  # change of ln depth per metre along the line ...
DEPTH_SLOPE_LENGTH_M: Final = 5.0  # ... keeps its sign over about this far
KINK_SIGMA: Final = 0.025  # change of a line's direction per root metre [rad], between sharp bends
CURRENT_LOG_STEP: Final = 0.04  # random change of ln current per root metre
CURRENT_MEDIAN_A: Final = 0.010  # where no current was read at all ...
CURRENT_LOG_SIGMA: Final = 1.5  # ... factor 4.5 each way

# -- second lines --------------------------------------------------------------------------------------
LINES_ODDS: Final = (0.38, 0.44, 0.18)  # none, one, two others within reach of the receiver
#: For the bands alone: as if others were there mostly, so that a band holds where they are, and not only on
#: the average of places with and without.
BAND_ODDS: Final = (0.15, 0.55, 0.30)
SECOND_NEAR_M: Final = 0.20  # nearer than this is the same trench: not told apart, said in words
SECOND_FAR_M: Final = 3.5  # farther ones move nothing by more than noise, mostly
SECOND_SLOPE_PARALLEL: Final = 0.012  # parallel lines: rad
SECOND_SLOPE_ANGLED: Final = 0.22  # converging and crossing ones: rad
SECOND_ANGLED_ODDS: Final = 0.30
SECOND_DEPTH_LOG_SIGMA: Final = 0.50
RATIO_MEAN: Final = 0.38  # size of the other current over the line's
RATIO_SIGMA: Final = 0.22
RATIO_LARGE_ODDS: Final = 0.12  # the signal prefers the other line
RATIO_LARGE_MEDIAN: Final = 0.9
RATIO_LARGE_LOG_SIGMA: Final = 0.5
RATIO_PHASE_SIGMA: Final = math.radians(22.0)
RATIO_DRIFT_SIGMA: Final = 0.40  # change of ln ratio from end to end: the two leak away differently
SECOND_DEPTH_DRIFT_SIGMA: Final = 0.15  # change of its ln depth from end to end
#: What a second line does here differs from a straight uniform one by this share: it winds, its depth waves.
SECOND_WANDER: Final = 0.12
CANDIDATE_ODDS: Final = 0.6  # another line of the job lies within reach: the second line is that one
CANDIDATE_SIGMA_M: Final = 0.30  # its own marks are bent as well
CANDIDATE_LOG_SIGMA: Final = 0.45

# -- what the model leaves out (finite length, taper, tilt, walking askew) -----------------------------
MODEL_DEPTH_SIGMA: Final = 0.03
MODEL_CURRENT_SIGMA: Final = 0.10  # a line's ends and leakage carry over to the current most
#: What is left out is much the same at all rows of a stretch, so that twenty rows do not tell twenty times
#: what one does about the second lines and the ground: the likelihood of the globals is raised to the power
#: 1 / (1 + this for each further row + that for each walk across). Set by coverage on invented sites.
SHARED_ERROR: Final = 0.10
SHARED_ERROR_OF_WALK: Final = 1.0
MODEL_LATERAL_SIGMA_M: Final = 0.008
#: Share of the shift that a second line gives a mark which may be wrong at all marks alike: lines that cross
#: steeply, end midway or bend are fitted as straight and nearly parallel ones.
SHIFT_SIGMA: Final = 0.20
#: Ends of bands are moved out by this: few particles lose far explanations. Set by coverage on invented
#: sites.
BAND_STRETCH: Final = 1.25
BEND_DEPTH_SIGMA: Final = 0.25  # at a bend itself; dies away over one depth
BEND_LATERAL_OF_DEPTH: Final = 0.15

# -- slips of the pen at one place ---------------------------------------------------------------------
#: A slipped depth is one of these, with its share of SLIP_ODDS: what is written over what the display showed.
DEPTH_SLIPS: Final = (
    ("a decimal point", 10.0, 0.15),
    ("a decimal point", 0.1, 0.08),
    ("feet written for metres", 1.0 / 0.3048, 0.10),
    ("metres written for feet", 0.3048, 0.05),
    ("inches in a box for feet", 12.0, 0.08),
    ("feet in a box for inches", 1.0 / 12.0, 0.04),
)
FEET_INCHES_SHARE: Final = 0.10  # 2.11 for 2 ft 11 in
SONDE_MODE_SHARE: Final = 0.10  # depth taken in sonde mode over a line
BESIDE_SHARE: Final = 0.10  # depth taken beside the mark ...
BESIDE_SIGMA_M: Final = 0.30  # ... by so much
ANYTHING_SHARE: Final = 0.20
ANYTHING_PER_LN: Final = (
    1.0 / 5.0
)  # density of what a slip of no known kind wrote: of depths and currents ...
ANYTHING_PER_M: Final = 1.0 / 4.0  # ... and of places
#: Two depths of one row are written in one unit and taken in one mode: a slip in the one is in the other.
SLIP_SHARED: Final = 0.9
CURRENT_TEN_SHARE: Final = (0.4, 0.2)  # of slipped currents: times ten, a tenth; the rest anything
METHOD_UNKNOWN_SONDE_ODDS: Final = 0.10  # nobody wrote how the depth came about
UNKNOWN_MARK_SIGMA_M: Final = 0.20  # mark set by guidance or by nobody knows what
#: A display withholds a depth past this, more or less, and now and then (noise, weak signal) any depth.
REFUSED_FROM_M: Final = 6.0
REFUSED_LN_SCALE: Final = 0.10
REFUSED_ODDS: Final = 0.01
HOLE_SIGMA_M: Final = 0.02  # depth and place of an exposed line, by tape
HOLE_RADIUS_M: Final = 0.15  # a test hole that found nothing spoke for this far around it ...
HOLE_MISS_ODDS: Final = 0.05  # ... but for so many that went past the line

# -- a test hole that found nothing, beside other rows of its line -------------------------------------
HOLE_BESIDE_ODDS: Final = 0.15  # dug over the mark, and the line passes beside it all the same
HOLE_REACH_M: Final = 0.25  # a hole dug farther off than this from the line's course says little of it
HOLE_BOTTOM_SIGMA: Final = 0.06  # of ln depth: how sharply the bottom of a hole is known

# -- a reading from the side beside the marks of its line ----------------------------------------------
SIDE_COURSE_M: Final = 0.12  # the line runs where its marks do, but for what bends them ...
SIDE_COURSE_PER_M: Final = 0.03  # ... and its own wandering, by so much per metre to the nearest mark

# -- lines that share a trench -------------------------------------------------------------------------
TRENCH_WIDTH_M: Final = 0.6
TRENCH_RISE_M: Final = 0.15  # a line of a trench lies above or below the signal's centre by about this

# -- the fix -------------------------------------------------------------------------------------------
FIX_SHARED: Final = 0.5  # share of a fix's variance that all fixes of a quarter of an hour have in common

# -- records of other lines ----------------------------------------------------------------------------
RECORD_ODDS: Final = 0.25  # a second line is one of the lines drawn on record, where such are near
RECORD_SIGMA_M: Final = 0.6  # where none is written
