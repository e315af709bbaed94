#pragma once

#include <array>

namespace mintspread::test {

/// Thickness of oxide layers on wafers: 8 lots x 3 wafers x 3 sites, sites fastest (R. C. Littell, G. A. Milliken, W.
/// W. Stroup & R. D. Wolfinger, SAS System for Mixed Models, 1996; data set Oxide of the R package nlme).
inline constexpr std::array<double, 72> oxide_thickness = {
    2006, 1999, 2007, 1980, 1988, 1982, 2000, 1998, 2007, 1991, 1990, 1988, 1987, 1989, 1988, 1985, 1983, 1989,
    2000, 2004, 2004, 2001, 1996, 2004, 1999, 2000, 2002, 1997, 1994, 1996, 1996, 2000, 2002, 1987, 1990, 1995,
    2013, 2004, 2009, 2023, 2018, 2010, 2020, 2023, 2015, 2032, 2036, 2030, 2018, 2022, 2026, 2009, 2010, 2011,
    1984, 1993, 1993, 1992, 1992, 1990, 1996, 1993, 1987, 1996, 1989, 1996, 1997, 1993, 1996, 1990, 1989, 1992};

/// Yields of dyestuff, 6 batches of 5 (O. L. Davies, Statistical Methods in Research and Production, 1947; data set
/// Dyestuff of the R package lme4).
inline constexpr std::array<double, 30> dyestuff_yield = {1545, 1440, 1440, 1520, 1580, 1540, 1555, 1490, 1560, 1495,
                                                          1595, 1550, 1605, 1510, 1560, 1445, 1440, 1595, 1465, 1545,
                                                          1595, 1630, 1515, 1635, 1625, 1520, 1455, 1450, 1480, 1445};

}  // namespace mintspread::test
