// What nearly every decoder includes, compiled once.
#include <boost/signals2/signal.hpp>

#include "airlatch/v1/event.pb.h"
#include "airlatch/v1/setup.pb.h"
