#include "tests/engine/each_processor.hpp"

// The kernels of the engine exist for AVX2 and above; without this Highway would count SSE among the families of this
// file.
#define HWY_DISABLE_PCLMUL_AES
#include <hwy/highway.h>

#include <catch2/catch.hpp>

void for_each_processor(const std::function<void()>& check) {
  for (std::int64_t target : hwy::SupportedAndGeneratedTargets()) {
    INFO(hwy::TargetName(target));
    hwy::SetSupportedTargetsForTest(target);
    hwy::GetChosenTarget().DeInit();
    check();
  }
  hwy::SetSupportedTargetsForTest(0);
  hwy::GetChosenTarget().DeInit();
}
