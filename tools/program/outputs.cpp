#include "tools/program/outputs.hpp"

#include <map>
#include <system_error>

#include "engine/base/whole_file.hpp"

namespace mintspread::program {
namespace {

namespace fs = std::filesystem;

/// One name for one file, however it is written.
fs::path settled(const fs::path& path) {
  std::error_code error;
  const fs::path canonical = fs::weakly_canonical(path, error);
  return error ? path.lexically_normal() : canonical;
}

bool names_directory(const std::string& place) {
  std::error_code error;
  return place != "-" && (place.ends_with('/') || fs::is_directory(place, error));
}

/// Remembers what is taken.
class Places {
 public:
  explicit Places(const std::vector<fs::path>& specifications) {
    for (const fs::path& specification : specifications) taken_[settled(specification)] = "the specification";
  }

  void take(const fs::path& path, const std::string& use) {
    std::error_code error;
    const bool device = path != "-" && fs::exists(path, error) && !fs::is_regular_file(path, error);
    if (device && !fs::is_directory(path, error)) return;
    const auto [place, free] = taken_.try_emplace(path == "-" ? path : settled(path), use);
    if (free) return;
    const std::string name = path == "-" ? "standard output" : "'" + path.string() + "'";
    throw UsageError("run: " + name + " cannot take " + use + " beside " + place->second +
                     ": give each its own file, or a directory");
  }

 private:
  std::map<fs::path, std::string> taken_;
};

}  // namespace

std::optional<reports::SampleFormat> sample_format(const fs::path& path) {
  if (path.extension() == ".npy") return reports::SampleFormat::npy;
  if (path.extension() == ".csv") return reports::SampleFormat::csv;
  return std::nullopt;
}

OutputPlan plan_outputs(const Request& request) {
  Places places(request.specifications);
  OutputPlan plan;
  const auto take = [&](const fs::path& path, const std::string& use) {
    places.take(path, use);
    if (path == "-") {
      plan.replaces_table = true;
    } else {
      expect_writable(path);
    }
    return path;
  };
  const bool for_customer = request.audience == reports::Audience::customer;
  const bool compares = request.specifications.size() > 1 && request.page && !names_directory(*request.page);
  if (compares && for_customer) {
    throw UsageError(
        "run: --report customer writes one page a coin, and the page of several coins tells their constructions: give "
        "--page a directory");
  }
  if (compares) plan.comparison = take(*request.page, "the page of all coins");
  for (const fs::path& specification : request.specifications) {
    const auto place = [&](const std::optional<std::string>& text, const char* form,
                           const char* ending) -> std::optional<fs::path> {
      if (!text) return std::nullopt;
      const fs::path path =
          names_directory(*text) ? fs::path(*text) / specification.stem().concat(ending) : fs::path(*text);
      return take(path, std::string("the ") + form + " of " + specification.string());
    };
    Outputs& outputs = plan.each.emplace_back();
    outputs.json = place(request.json, "JSON", ".json");
    outputs.csv = place(request.csv, "CSV", ".csv");
    outputs.samples = place(request.samples, "samples", "-samples.npy");
    if (outputs.samples && !sample_format(*outputs.samples)) {
      throw UsageError("run: --samples takes a file that ends in .npy or .csv, or a directory, not '" +
                       outputs.samples->string() + "'");
    }
    if (!compares) outputs.page = place(request.page, "page", for_customer ? "-customer.html" : ".html");
  }
  return plan;
}

}  // namespace mintspread::program
