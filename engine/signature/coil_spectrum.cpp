#include "engine/signature/coil_spectrum.hpp"

#include <algorithm>
#include <boost/math/quadrature/gauss.hpp>
#include <boost/math/special_functions/bessel.hpp>
#include <cmath>
#include <cstddef>

#include "engine/base/constants.hpp"
#include "engine/signature/planar.hpp"

namespace mintspread::signature {

namespace {

/// J1 or J0 in double precision. Boost's usual policy computes them in long double, five times slower and, for what
/// follows, no better: the tests hold the moment to a few units of the last digit.
double bessel_j(int order, double x) {
  using namespace boost::math::policies;
  return boost::math::cyl_bessel_j(order, x, policy<promote_double<false>>());
}

// X(x) = INT_0^x t J1(t) dt. Three ranges, so that neither small differences of large numbers nor long sums occur.

double moment_by_series(double x) {
  // t J1(t) = SUM (-1)^m t^(2m+2) / (2^(2m+1) m! (m+1)!)
  const double quarter = 0.25 * x * x;
  double term = 0.5 * x * x * x, sum = 0.0;
  for (int m = 0; m < 40; ++m) {
    const double part = term / (2 * m + 3);
    sum += part;
    if (std::abs(part) < 1e-18 * std::abs(sum)) break;
    term *= -quarter / ((m + 1.0) * (m + 2.0));
  }
  return sum;
}

double moment_by_neumann(double x) {
  // X = -x J0 + INT_0^x J0 and INT_0^x J0 = 2 (J1 + J3 + J5 + ...); all orders by Miller's backward recurrence,
  // scaled by J0 + 2 (J2 + J4 + ...) = 1.
  const int start = 2 * static_cast<int>(0.5 * x + 2.5 * std::cbrt(x) + 14.0);
  double above = 0.0, here = 1e-290, odd = 0.0, even = 0.0;
  for (int order = start; order > 0; --order) {
    const double below = 2.0 * order / x * here - above;
    above = here;
    here = below;
    if (order % 2 == 0)
      odd += here;  // `here` is now the order below
    else if (order > 1)
      even += here;
    if (std::abs(here) > 1e250) {
      here *= 1e-250;
      above *= 1e-250;
      odd *= 1e-250;
      even *= 1e-250;
    }
  }
  const double scale = here + 2.0 * even;
  return (2.0 * odd - x * here) / scale;
}

double moment_by_asymptotics(double x) {
  // H0 - Y0 = (2/pi) k0 and H1 - Y1 = (2/pi) k1 with the asymptotic series of DLMF 11.6.1; J1 Y0 - J0 Y1 = 2/(pi x).
  const double square = 1.0 / (x * x);
  double k0 = 0.0, k1 = 0.0, term = 1.0 / x;
  for (int m = 0; m < 14; ++m) {
    k0 += term;
    term *= -square * (2 * m + 1) * (2 * m + 1);
  }
  term = 1.0;
  for (int m = 0; m < 14; ++m) {
    k1 += term;
    term *= -square * (2 * m - 1) * (2 * m + 1);
  }
  return 1.0 + x * (bessel_j(1, x) * k0 - bessel_j(0, x) * k1);
}

double moment(double x) {
  if (x < 5.0) return moment_by_series(x);
  if (x < 45.0) return moment_by_neumann(x);
  return moment_by_asymptotics(x);
}

}  // namespace

double bessel_moment(double a, double b) {
  if (b <= 0.0) return 0.0;
  // A thin coil: the difference of two nearly equal values of X would lose digits, a short quadrature does not.
  if (b - a < 2.0)
    return boost::math::quadrature::gauss<double, 15>::integrate([](double x) { return x * bessel_j(1, x); }, a, b);
  return moment(b) - moment(a);
}

double coil_weight(const Coil& coil, double k) {
  const double turns_per_area = coil.turns / ((coil.outer_radius - coil.inner_radius) * coil.length);
  const double radial = bessel_moment(k * coil.inner_radius, k * coil.outer_radius) / (k * k);
  return turns_per_area * radial * (-std::expm1(-k * coil.length) / k);
}

double self_inductance(const Coil& coil) {
  // L0 = 2 pi mu0 INT S^2 k^-2 (k l + exp(-k l) - 1) dk with S = n chi / k^2. Beyond `last` the radial part is replaced
  // by its mean, chi^2 ~ k (r1 + r2) / pi, which leaves a tail in closed form.
  const double width = coil.outer_radius - coil.inner_radius;
  const double length = coil.length;
  const double turns_per_area = coil.turns / (width * length);
  const double step = 3.0 / coil.outer_radius;
  const double last = std::min(600.0 / std::min(width, length), 2e4 / coil.outer_radius);
  const auto integrand = [&](double k) {
    const double radial = turns_per_area * bessel_moment(k * coil.inner_radius, k * coil.outer_radius) / (k * k);
    const double x = k * length;
    const double axial =
        x < 1e-2 ? x * x * (0.5 - x / 6.0 * (1.0 - x / 4.0 * (1.0 - x / 5.0 * (1.0 - x / 6.0)))) : x + std::expm1(-x);
    return radial * radial / (k * k) * axial;
  };
  const auto panels = static_cast<std::size_t>(std::ceil(last / step));
  double sum = 0.0;
  for (std::size_t i = 0; i < panels; ++i)
    sum += boost::math::quadrature::gauss<double, 15>::integrate(integrand, static_cast<double>(i) * step,
                                                                 static_cast<double>(i + 1) * step);
  const double end = static_cast<double>(panels) * step;
  const double tail = turns_per_area * turns_per_area * (coil.inner_radius + coil.outer_radius) / pi *
                      (length / (3.0 * end * end * end) - 1.0 / (4.0 * end * end * end * end));
  return 2.0 * pi * mu0 * (sum + tail);
}

}  // namespace mintspread::signature
