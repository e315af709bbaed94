#include <csignal>
#include <cstdio>
#include <exception>
#include <new>
#include <string>
#include <vector>

#include "engine/base/contract.hpp"
#include "engine/base/whole_file.hpp"
#include "tools/program/command_line.hpp"
#include "tools/program/commands.hpp"
#include "tools/program/examination.hpp"

namespace {

using namespace mintspread;

enum Status { done = 0, usage = 2, failed = 3, broken = 70 };

int tell(int status, const std::string& text) {
  std::fprintf(stderr, "mintspread: %s\n", text.c_str());
  return status;
}

}  // namespace

int main(int argument_count, char** arguments) {
  std::signal(SIGXFSZ, SIG_IGN);  // a file size limit is an error of the write, not the end of the program
  try {
    return program::execute(program::read_command_line({arguments + 1, arguments + argument_count}));
  } catch (const program::UsageError& error) {
    return tell(usage, error.what());
  } catch (const program::Rejected& error) {
    return tell(usage, error.what());
  } catch (const CannotWrite& error) {
    return tell(failed, error.what());
  } catch (const ContractBroken& error) {
    return tell(broken, std::string("an error of this program, not of the specification: ") + error.what());
  } catch (const std::bad_alloc&) {
    return tell(failed, "out of memory");
  } catch (const std::exception& error) {
    return tell(broken, std::string("an error of this program, not of the specification: ") + error.what());
  }
}
