#include "tests/support/each_processor.hpp"

// The kernels of the engine exist for AVX2 and above; without this Highway would count SSE among the families of this
// file.
#define HWY_DISABLE_PCLMUL_AES
#include <hwy/highway.h>

void for_each_processor(const std::function<void(const char*)>& check) {
  for (std::int64_t target : hwy::SupportedAndGeneratedTargets()) {
    hwy::SetSupportedTargetsForTest(target);
    hwy::GetChosenTarget().DeInit();
    check(hwy::TargetName(target));
  }
  hwy::SetSupportedTargetsForTest(0);
  hwy::GetChosenTarget().DeInit();
}
