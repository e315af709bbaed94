#include "tools/program/build_identity.hpp"

#include <elf.h>
#include <fmt/format.h>
#include <link.h>

#include <cstddef>
#include <cstring>

#include "engine/base/contract.hpp"

namespace mintspread::program {
namespace {

std::size_t padded(std::size_t size) { return (size + 3) / 4 * 4; }

/// Looks through the notes of a program segment (elf(5)) for the build identity.
std::string find_in_notes(const char* notes, std::size_t size) {
  std::size_t at = 0;
  while (at + sizeof(ElfW(Nhdr)) <= size) {
    ElfW(Nhdr) note;
    std::memcpy(&note, notes + at, sizeof note);
    const char* const name = notes + at + sizeof note;
    const char* const content = name + padded(note.n_namesz);
    if (note.n_type == NT_GNU_BUILD_ID && note.n_namesz == 4 && std::memcmp(name, "GNU", 4) == 0) {
      std::string digits;
      for (std::size_t i = 0; i < note.n_descsz; ++i)
        digits += fmt::format("{:02x}", static_cast<unsigned char>(content[i]));
      return digits;
    }
    at += sizeof note + padded(note.n_namesz) + padded(note.n_descsz);
  }
  return "";
}

/// Called for the program itself first; stops there.
int visit(dl_phdr_info* object, std::size_t, void* found) {
  for (int i = 0; i < object->dlpi_phnum; ++i) {
    const auto& segment = object->dlpi_phdr[i];
    if (segment.p_type != PT_NOTE) continue;
    const auto* notes = reinterpret_cast<const char*>(object->dlpi_addr + segment.p_vaddr);
    std::string identity = find_in_notes(notes, segment.p_memsz);
    if (!identity.empty()) *static_cast<std::string*>(found) = identity;
  }
  return 1;
}

}  // namespace

std::string build_identity() {
  std::string identity;
  ::dl_iterate_phdr(visit, &identity);
  expect(!identity.empty(), "the program is linked with a build identity");
  return identity;
}

}  // namespace mintspread::program
