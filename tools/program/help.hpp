#pragma once

namespace mintspread::program {

// The words of --help, by command.
extern const char* const overview_help;
extern const char* const run_help;
extern const char* const reading_help;
extern const char* const check_help;
extern const char* const fit_help;

}  // namespace mintspread::program
