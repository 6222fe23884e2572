// What nearly every test includes, compiled once.
#include <gtest/gtest.h>

#include <boost/signals2/signal.hpp>
#include <cmath>
#include <fstream>
#include <map>
#include <random>
#include <sstream>
#include <string>
#include <vector>

#include "airlatch/v1/event.pb.h"
#include "airlatch/v1/report.pb.h"
#include "airlatch/v1/setup.pb.h"
