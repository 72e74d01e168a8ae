import java.io.FileInputStream;
import java.util.Map;
import java.util.TreeMap;
import java.util.logging.Level;
import java.util.logging.Logger;
import org.verapdf.gf.foundry.VeraGreenfieldFoundryProvider;
import org.verapdf.pdfa.Foundries;
import org.verapdf.pdfa.PDFAParser;
import org.verapdf.pdfa.flavours.PDFAFlavour;
import org.verapdf.pdfa.results.TestAssertion;
import org.verapdf.pdfa.results.ValidationResult;

/** Holds PDF files against the rules of PDF/UA-1; says each rule that is broken, with its clause, once. */
public class Conformance {
    public static void main(String[] files) throws Exception {
        Logger.getLogger("").setLevel(Level.SEVERE);
        VeraGreenfieldFoundryProvider.initialise();
        boolean areCompliant = true;
        for (String file : files) {
            try (PDFAParser parser =
                    Foundries.defaultInstance().createParser(new FileInputStream(file), PDFAFlavour.PDFUA_1)) {
                ValidationResult result =
                        Foundries.defaultInstance().createValidator(PDFAFlavour.PDFUA_1, true).validate(parser);
                areCompliant &= result.isCompliant();
                System.out.printf("%s: %s, %d assertions%n", file,
                        result.isCompliant() ? "compliant" : "NOT compliant", result.getTotalAssertions());
                Map<String, Integer> broken = new TreeMap<>();
                for (TestAssertion assertion : result.getTestAssertions()) {
                    if (assertion.getStatus() == TestAssertion.Status.FAILED) {
                        String rule = assertion.getRuleId().getClause() + "-" + assertion.getRuleId().getTestNumber();
                        broken.merge(rule + ": " + assertion.getMessage(), 1, Integer::sum);
                    }
                }
                broken.forEach((rule, times) -> System.out.printf("  %d times %s%n", times, rule));
            }
        }
        System.exit(areCompliant ? 0 : 1);
    }
}
