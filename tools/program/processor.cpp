// Everything else is compiled for x86-64-v3 and would end in "illegal instruction" on an older processor. This file is
// compiled for any x86-64, uses no function that another file could supply in a newer form (no templates, no inline
// functions), and runs before the other files' initialisers.

#include <unistd.h>

namespace {

[[gnu::constructor(101)]] void expect_processor() {
  __builtin_cpu_init();
  if (__builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma") && __builtin_cpu_supports("bmi") &&
      __builtin_cpu_supports("bmi2"))
    return;
  static const char message[] =
      "mintspread: this processor lacks AVX2, FMA or BMI, which the program is built for (x86-64-v3: most processors "
      "since 2013). Run it on a newer machine; under an emulator or a virtual machine, let it show these features.\n";
  [[maybe_unused]] const long written = write(2, message, sizeof message - 1);
  _exit(3);
}

}  // namespace
