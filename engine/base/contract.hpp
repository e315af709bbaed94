#pragma once

#include <stdexcept>
#include <string>

namespace mintspread {

/// A broken promise between parts of this program: never the user's fault. The program ends with exit status 70.
class ContractBroken : public std::logic_error {
 public:
  using std::logic_error::logic_error;
};

/// Throws ContractBroken unless `holds`. Always on; keep it outside loops over lanes.
inline void expect(bool holds, const char* promise) {
  if (!holds) throw ContractBroken(promise);
}

}  // namespace mintspread
