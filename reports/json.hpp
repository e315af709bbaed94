#pragma once

#include <string>
#include <string_view>

#include "engine/study/result.hpp"

namespace mintspread::reports {

/// Whether a file tells what differs between two runs of the same study: seconds and threads.
enum class Times { keep, leave_out };

/// The complete result as JSON: `"format": "mintspread result"`, `"version": "1.0"`, then the members of study::Result
/// under their names and in their order, numbers in the shortest form that reads back as the same double. A number that
/// is not finite is `null`, and a key `<name>_status` after it says "undefined", "infinite" or "minus infinite". What
/// is optional and absent has no key.
std::string result_json(const study::Result& result, Times times);

/// Two specifications compared, in the same manner: `"format": "mintspread comparison"`, `"version": "1.0"`.
std::string comparison_json(const study::Comparison& comparison);

/// The inverse of result_json: read_result_json(result_json(r, Times::keep)) == r. Keys this version does not know are
/// passed over, so files of a later minor version can be read. \throws InvalidSpecification naming the place in the
/// file when the text is not JSON, not a result, of another major version, or lacks a key.
study::Result read_result_json(std::string_view text);

}  // namespace mintspread::reports
