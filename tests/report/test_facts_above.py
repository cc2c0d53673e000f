"""The JSON document of a file with several lines of facts above its table."""

import analyzer
from analyzer.report.document import check_document


def test_facts_above_a_table_share_no_column_and_the_document_is_whole(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text(
        "Fiber type,OM4\nReference,1-cord\nOperator,crew K\n\nLink,Length (m),Loss 850 nm (dB)\nA-1,100,0.5\n"
    )
    told = check_document(analyzer.analyze(path))
    assert told["links"][0]["readings"][0]["from"]["heading"] == "Loss 850 nm (dB)"
