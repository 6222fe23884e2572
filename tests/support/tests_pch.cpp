// A precompiled header needs a source to belong to: tests_pch.hpp is all there is.
