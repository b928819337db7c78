//! Browser tests of the pages, through WebDriver.
