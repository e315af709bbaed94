#include <catch2/catch.hpp>
#include <string>
#include <vector>

#include "engine/base/nearest.hpp"
#include "engine/base/sha256.hpp"

using mintspread::nearest;
using mintspread::sha256;

// FIPS 180-2 (2002), appendix B.1 to B.3; the empty message: NIST CAVP SHA256ShortMsg.rsp, Len = 0. From memory.
TEST_CASE("sha256 gives the digests of the standard's examples") {
  CHECK(sha256("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  CHECK(sha256("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq") ==
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
  CHECK(sha256(std::string(1000000, 'a')) == "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
  CHECK(sha256("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

TEST_CASE("the nearest key is found over a slip of the fingers and not beyond it") {
  const std::vector<std::string> keys = {"thickness", "rim thickness", "material", "permeability", "rest"};
  CHECK(nearest("thicknes", keys) == "thickness");
  CHECK(nearest("Thickness", keys) == "thickness");
  CHECK(nearest("thcikness", keys) == "thickness");
  CHECK(nearest("rim-thickness", keys) == "rim thickness");
  CHECK(nearest("permability", keys) == "permeability");
  CHECK(nearest("rset", keys) == "rest");
  CHECK(nearest("colour", keys).empty());
  CHECK(nearest("", keys).empty());
  CHECK(nearest(std::string(100000, 'x'), keys).empty());
}
