#include "tools/program/help.hpp"

namespace mintspread::program {

const char* const overview_help =
    R"(mintspread COMMAND ...: how a plated coin's manufacturing tolerances spread its electromagnetic signature.

  run SPEC...       simulate production: spread per channel, share of coins accepted, what rejects the rest
  reading SPEC      the nominal coin: its section, its channels, the impedance at each frequency
  check SPEC...     read the specification, report every problem, say how each tolerance was understood

  fit DATA.csv      fit the shapes of a specification to a column of measurements

  COMMAND --help    what a command takes
  --version         version of the program and of its files

A SPEC is a YAML file; examples and the reference of the format stand in the folder specs.

Exit status: 0 every target is met; 1 a target is missed; 2 a mistake in the command line or a specification (nothing
was run); 3 the run failed or a file could not be written; 70 an error of this program; 130, 143 interrupted.

A prediction is no certificate of acceptance and does not replace a trial with the makers of the machines.
)";

const char* const run_help = R"(mintspread run SPEC... [options]: simulate production of one or several coins.

  --set PATH=VALUE  replace a value of the specification: --set 'bath.copper.thickness=25 um +/- 2 um' (repeatable)
  --coins N         coins to simulate (262144); 1e6 is understood
  --until TEXT      more coins, until the 95 % interval of a figure is narrow enough: 'accepted +/- 0.01 %' (every class),
                    'accepted by vending +/- 0.01 %', 'mean of skin +/- 0.1', and so with sd, median and
                    '99.865 % quantile'. A precision that is not reached gives exit status 1
  --at-most N       coins at most with --until (1e8)
  --points KIND     sobol (the usual: scrambled Sobol' points in 32 to 63 replicates, which give the same answer from
                    fewer coins; N is rounded up to whole nets, and below 16384 drawn plainly) or plain (exactly N
                    independent coins)
  --shares          also the share of each step, tolerance and group in each channel's variance
  --lots N          also figures about lots: N lots drawn in the order of production; a lot is the largest group that
                    is no part of another, or the one named: --lots '200 shipped lot'
  --lot-rate X      rejected share of a lot whose chance of being exceeded is told beside those of 0.1 to 5 %: '0.3 %'
                    (repeatable)
  --seed N          seed of the draws (1): the same seed and specification give the same bytes
  --outer N         draws of what is not known, for the band of each figure (24); 0 leaves the band out
  --planar          coins of unlimited width, without a rim: quicker, and wrong for coils about as wide as the coin, for
                    late decay gates and through steel; without it coins have their finite size, solved once (some 20 s)
                    for a range of coins and kept in the store for later runs
  --tolerance X     largest error of the planar solution, relative to the impedance change (1e-6)
  --threads N       threads (all of the machine); the result does not depend on it

  --samples FILE    every coin of the run, one a row: draws, readings, relations, which sort of the route scrapped it
                    (then without readings), who accepts it; a name that ends in .npy or .csv, or a directory:
                    NAME-samples.npy
  --json FILE       the complete result
  --csv FILE        one figure a line, for a spreadsheet
  --page FILE       one HTML file to read, print and archive; of several coins, a page that compares them
  --report READER   who reads the page: engineer (the whole page) or customer (two sheets of paper without route,
                    layers, materials, process numbers and file names)
                    FILE may be - (standard output, instead of the table) or a directory: NAME.json, NAME.csv and
                    NAME.html, or NAME-customer.html, of each specification. Files appear whole or not at all. They
                    hold acceptance windows, so that only their owner may read new ones: keep them confidential.
  --no-times        leave out seconds and threads: equal runs give equal files

  --fresh           compute even what the store holds already
  --no-store        neither read from the store nor keep anything there
  --quiet           errors only: no progress, no notes

Of two specifications, the differences are printed as well: both are drawn with common numbers.

Every specification is read before the first is run: if one is wrong, nothing is run and nothing is written.
The store is in MINTSPREAD_CACHE, else in the user's cache folder.
)";

const char* const reading_help = R"(mintspread reading SPEC [options]: what the sensor reads of the nominal coin.

  --set PATH=VALUE  replace a value of the specification (repeatable)
  --planar          a coin of unlimited width, without a rim
  --tolerance X     largest error of the planar solution, relative to the impedance change (1e-6)
  --json FILE       the complete reading; - is standard output, instead of the table
  --no-times        leave out seconds and threads
  --quiet           errors only
)";

const char* const check_help =
    R"(mintspread check SPEC... [options]: read specifications and say how they were understood.

  --set PATH=VALUE  replace a value of the specification (repeatable)
  --quiet           errors only: the exit status tells
)";

const char* const fit_help = R"(mintspread fit DATA.csv [options]: fit the shapes of a specification to measured values.

  --column NAME     column of the table (its only one); a heading like 'thickness (um)' tells the unit
  --unit UNIT       unit of the column, where the heading does not tell it
  --group NAME      column that names the group a piece is of, from the outermost to the innermost (repeatable):
                    --group lot --group barrel; the variance is then split by group
  --resolution X    step the readings were rounded to (as they are written); 0: not rounded
  --sorted 'A .. B' limits outside of which pieces had been sorted out before they were measured
  --gauge FILE      gauge file: its bias is taken off, its repeatability out of the spread; several columns, each with its
                    gauge in the same order, are readings of the same pieces and are combined by their precision
  --bias X          without a gauge file: what the gauge reads too much, '0.2 um' or '2 %'
  --repeatability X standard deviation of one reading of one piece, '0.3 um' or '2 %'

  --draws N         samples drawn from each fitted shape, for the probability of a worse fit and the intervals of its
                    quantiles (199); fewer than 39 give no intervals, 0 neither
  --seed N          seed of those samples (1)
  --json FILE       the complete result; - is standard output, instead of the text
  --page FILE       one HTML file: histogram and quantiles of data and fit, the tables, the lines to paste
  --quiet           errors only

Fields are separated by commas, semicolons or tabs; with the latter two, decimal commas are understood. Empty cells and
NA are gaps; '< 0.5' and '> 30' are readings of which only a bound is known. The last part of the text is what to paste
into a specification.
)";

}  // namespace mintspread::program
