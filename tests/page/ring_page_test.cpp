// SPDX-License-Identifier: MIT
#include "meltlag/page/ring_page.hpp"

#include <doctest/doctest.h>

#include "meltlag/base/error.hpp"

namespace meltlag::page {
namespace {

TEST_SUITE("page") {
  TEST_CASE("the page for rings: a background of choice, either paper") {
    std::string const a4 = make_ring_page(Paper::a4, "blue");
    std::string const letter = make_ring_page(Paper::letter, "#123456");
    CHECK(a4.find("width=\"210mm\" height=\"297mm\"") != std::string::npos);
    CHECK(letter.find("width=\"215.9mm\" height=\"279.4mm\"") != std::string::npos);
    CHECK(a4.find("#1838c0") != std::string::npos);
    CHECK(letter.find("#123456") != std::string::npos);
    CHECK(a4.find("heat-resistant film") != std::string::npos);
    CHECK_THROWS_WITH_AS((void)make_ring_page(Paper::a4, "bleu"),
                         doctest::Contains("there is no background 'bleu'"),
                         Error);
  }
}

}  // namespace
}  // namespace meltlag::page
