// For the rooms that wait on real links: the io_context behind a Loop.
#pragma once

#include <boost/asio/io_context.hpp>

#include "switchwright/core/loop.hpp"

namespace switchwright {

boost::asio::io_context& io_context_of(Loop& loop);

}  // namespace switchwright
