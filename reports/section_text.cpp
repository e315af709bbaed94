#include "reports/section_text.hpp"

#include <algorithm>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "reports/numbers.hpp"

namespace mintspread::reports {

namespace {

using study::NominalCoin;

// Layers of one bath stand on both faces under one name and share a letter. A hot anneal makes five sublayers of each
// boundary, so that small letters alone do not last.
constexpr std::string_view alphabet = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789!$%&*+-/:<=>?@^_~";

std::vector<char> letters(const NominalCoin& coin) {
  std::map<std::string, char> known;
  std::vector<char> list;
  std::size_t next = 0;
  for (const auto& layer : coin.layers) {
    if (layer.core) {
      list.push_back('#');
      continue;
    }
    // Beyond the alphabet a layer has no letter of its own: a blank, never another layer's.
    const auto [entry, fresh] = known.emplace(layer.name, next < alphabet.size() ? alphabet[next] : ' ');
    if (fresh) ++next;
    list.push_back(entry->second);
  }
  return list;
}

}  // namespace

TextTable section_table(const NominalCoin& coin, std::size_t width) {
  const auto letter = letters(coin);
  const std::size_t core = static_cast<std::size_t>(
      std::find_if(coin.layers.begin(), coin.layers.end(), [](const auto& layer) { return layer.core; }) -
      coin.layers.begin());
  TextTable table{{{"section", Align::left},
                   {"layer", Align::left},
                   {"metal", Align::left},
                   {"face"},
                   {"rim"},
                   {"conductivity"},
                   {"mu_r"}},
                  1,
                  {}};
  for (std::size_t i = 0; i < coin.layers.size(); ++i) {
    // What lies round this layer at the rim: the plating outside it, seen from its own face.
    std::string left;
    if (i <= core) {
      for (std::size_t j = 0; j < i; ++j) left += coin.layers[j].rim_thickness > 0.0 ? std::string(1, letter[j]) : "";
    } else {
      for (std::size_t j = coin.layers.size() - 1; j > i; --j)
        left += coin.layers[j].rim_thickness > 0.0 ? std::string(1, letter[j]) : "";
    }
    const std::size_t inside = width > 2 * left.size() ? width - 2 * left.size() : 1;
    const std::string row = left + std::string(inside, letter[i]) + std::string(left.rbegin(), left.rend());
    const auto& layer = coin.layers[i];
    if (layer.core) table.rows.push_back({row});
    table.rows.push_back({row, std::string(1, letter[i]) + " " + layer.name, layer.metal, length(layer.thickness),
                          layer.rim_thickness > 0.0 && !layer.core ? length(layer.rim_thickness) : "",
                          significant(layer.conductivity / 1e6, 4) + " MS/m", significant(layer.permeability, 4)});
    if (layer.core) table.rows.push_back({row});
  }
  return table;
}

}  // namespace mintspread::reports
